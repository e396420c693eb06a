"""Commands; each is a module of its own."""
