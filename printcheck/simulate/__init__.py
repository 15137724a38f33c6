"""Synthetic prints and captures with known truth. Nothing that reads a sheet imports this."""
