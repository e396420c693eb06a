"""Forms that set a night up, enter cars and move entries."""
