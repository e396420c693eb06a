"""What is put right afterwards, each with its reason beside what stood before."""
