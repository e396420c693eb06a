"""What the club owns and measures: parts, gauges, readings, pairs."""
