"""Rulebooks with their editions, and trials of a draft on stored cars."""
