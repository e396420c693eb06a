"""Writes on the block."""
