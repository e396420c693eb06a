"""The pages of parts, pairs, gauges and people."""
