"""The words of a search: as many as a database can be asked for at once."""

from typing import Final

LONGEST_SEARCH: Final = 200
#: Each asks for more tables, and SQLite joins 64 of them.
MOST_WORDS: Final = 12


def words_of(text: str) -> list[str]:
    """
    Give the words that are looked for, the first of them where there are very many.

    Parameters
    ----------
    text : str
        What was typed.

    Returns
    -------
    list of str
        The words.
    """
    return text[:LONGEST_SEARCH].split()[:MOST_WORDS]
