"""Will it fit, and from the gear to the cars."""
