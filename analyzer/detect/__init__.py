"""Stage detect."""
