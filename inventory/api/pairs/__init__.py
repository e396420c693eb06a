"""Batches, the pairs that are found in them, and what is confirmed."""
