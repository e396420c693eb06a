"""Whole lists, streamed."""
