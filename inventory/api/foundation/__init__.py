"""What every operation of the API has in common: read it from `operations` on."""
