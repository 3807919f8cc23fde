"""Stage training."""
