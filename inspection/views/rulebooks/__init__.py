"""Rulebooks: the shelf, editions, rules, exchange, trials."""
