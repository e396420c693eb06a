"""Seasons and wear: what sealed sheets say when many are read."""
