"""Forms of the rulebooks and of their trials."""
