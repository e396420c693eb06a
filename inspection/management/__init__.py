"""Commands of the rules, the cars and the race nights."""
