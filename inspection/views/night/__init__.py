"""Tonight and the race nights."""
