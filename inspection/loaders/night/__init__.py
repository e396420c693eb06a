"""Race nights and the board."""
