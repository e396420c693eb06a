"""What a caliper box asks: what is wanted of it, and where its reading goes."""
