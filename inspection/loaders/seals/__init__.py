"""Seals held against the tables: what differs, and of which sheet."""
