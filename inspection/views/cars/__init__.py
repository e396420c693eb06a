"""Cars: the garage, what is on a car, its sizes, wear."""
