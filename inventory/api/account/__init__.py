"""Whoever asks: who they are, what they may do."""
