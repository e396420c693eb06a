"""Forms about people."""
