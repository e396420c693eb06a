"""People: the list, one of them, links that are handed over, one's own account."""
