"""Lists by which a club moves in: their columns, and tables read as such."""
