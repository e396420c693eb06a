"""Pure computing on cars and rules: numbers in, numbers out."""
