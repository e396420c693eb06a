"""What would come into stock: rows held against it, drafts looked at."""
