"""Tables in and out of the inventory."""
