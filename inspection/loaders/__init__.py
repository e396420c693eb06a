"""Rows to compute values: the only place where a stored value becomes a float."""
