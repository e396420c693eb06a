"""What is written out of the stock, by a page or a script."""
