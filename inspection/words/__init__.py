"""Sentences and names for people, made of what computing gives: a code and values."""
