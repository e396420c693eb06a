"""People: how they join, what they may do, how they sign in, how they leave."""
