"""Cars: what each is, its geometry, what sits on it."""
