"""Rulebooks: read, taken in, tried, published."""
