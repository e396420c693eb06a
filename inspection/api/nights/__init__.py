"""Race nights, their entries and blocks."""
