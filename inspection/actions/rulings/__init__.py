"""What follows a seal: questions about sealed sheets, and the chief's answers."""
