"""Tables of the API alone."""
