"""Forms of “Will it fit”."""
