"""Forms of a club that moves in."""
