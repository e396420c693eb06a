"""The season in figures."""
