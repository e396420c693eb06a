"""What fits: the stock against a car, a part against the cars, typed numbers."""
