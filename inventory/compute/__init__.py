"""Pure computing on parts and readings: numbers in, numbers out."""
