"""A club that moves: out as one archive, in as an archive."""
