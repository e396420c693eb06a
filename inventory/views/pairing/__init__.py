"""The pairing page: a bag, its pairs, its rest."""
