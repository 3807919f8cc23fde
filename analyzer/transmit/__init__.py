"""Stage transmit."""
