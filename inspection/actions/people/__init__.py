"""People, as far as their cars and nights count."""
