"""A sheet on the block: what is asked, what was read, what each rule says."""
