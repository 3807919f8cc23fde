"""Stage measure."""
