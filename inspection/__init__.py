"""Rules, cars, race nights and verdicts."""
