"""What is stored of a car."""
