"""On the block, and the sheet as it is read and printed."""
