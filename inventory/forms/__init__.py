"""Forms of the inventory's pages."""
