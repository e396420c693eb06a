"""Parts: found, taken in, measured, moved, put right."""
