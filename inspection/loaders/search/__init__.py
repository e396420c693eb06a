"""Finding anything of the club from one box: by tag, number, name or scanned code."""
