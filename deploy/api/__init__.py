"""The API as one: its addresses, its description, its documentation."""
