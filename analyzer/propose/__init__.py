"""Stage propose."""
