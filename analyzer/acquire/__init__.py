"""Stage acquire."""
