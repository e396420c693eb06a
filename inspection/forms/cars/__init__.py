"""Forms of the cars pages."""
