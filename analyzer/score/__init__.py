"""Stage score."""
