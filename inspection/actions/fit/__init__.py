"""Parts and cars: reserving what fits, putting parts on and taking them off."""
