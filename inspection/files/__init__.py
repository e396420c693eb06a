"""Rulebooks as files."""
