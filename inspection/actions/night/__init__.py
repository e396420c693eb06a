"""A night: its plan, its blocks, who is entered and who is called."""
