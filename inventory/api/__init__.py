"""The API of parts, gauges and people: the same actions and loaders as the pages."""
