"""Stage takeoff."""
