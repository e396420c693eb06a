"""
What the service says of itself: one JSON object a line, each with its request's number.

``lines`` makes the lines, ``requests`` numbers each request, writes the access log and
names slow queries.  No name of a person, no password, code, form or query string is
written; a person is a number.
"""
