"""Stage observe."""
