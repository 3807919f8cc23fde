"""Streamlit front of the slab analyzer."""
