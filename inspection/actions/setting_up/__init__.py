"""What stands in the way of setting something up."""
