"""Files that are written while they are sent."""
