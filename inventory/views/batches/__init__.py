"""New batches: a file, a paste or the caliper."""
