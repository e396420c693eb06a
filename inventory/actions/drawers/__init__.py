"""Drawers: parts laid from one into another, and what lies in one counted."""
