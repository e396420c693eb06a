"""What is noted of a car beside its readings."""
