"""Stage calibrate."""
