"""What a release is accompanied by."""
