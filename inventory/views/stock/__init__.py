"""Parts, pairs and sets in stock."""
