"""Every write to the inventory: one named action, one transaction each."""
