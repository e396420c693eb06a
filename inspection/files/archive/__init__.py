"""The whole club as one file: a data package of CSV tables and sealed sheets."""
