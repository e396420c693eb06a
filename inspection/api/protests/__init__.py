"""Protests and rulings."""
