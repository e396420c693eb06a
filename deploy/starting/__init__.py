"""
What a start makes sure of before it serves.

The folder is its owner's alone, one start at a time prepares it, the code is not
older than the database, and the tables are as the code wants them.  ``turns`` and
``data_folder`` need the standard library alone: they are used before anything else
is there.
"""
