"""Stage rate."""
