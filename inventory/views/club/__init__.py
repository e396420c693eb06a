"""The club: its beginning."""
