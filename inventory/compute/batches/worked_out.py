"""
Words of a list by which a row or a column is worked out of others: means, sums, counts.

Lists come from many spreadsheets, so the words are of several languages; accents count.
"""

import re
from collections.abc import Sequence
from typing import Final

_MEANS: Final = frozenset(
    {"mean", "average", "avg", "median"}
    | {"mittel", "mittelwert", "mittelwerte", "durchschnitt", "schnitt"}
    | {"moyenne", "moyennes", "moy", "médiane"}
    | {"media", "mediana", "promedio", "média"}
    | {"gemiddelde", "gemiddeld", "mediaan"}
)
_SUMS: Final = frozenset(
    {"total", "totals", "sum", "count", "σ"}
    | {"summe", "summen", "gesamt", "gesamtsumme", "insgesamt", "anzahl"}
    | {"somme", "sommes", "totaux"}
    | {"totale", "somma", "suma", "conteggio"}
    | {"totaal", "som", "aantal"}
)
#: A column of them is worked out too; a row is not called so.
_SPREADS: Final = frozenset(
    {"range", "spread", "pair"}
    | {"spannweite", "streuung", "paar"}
    | {"étendue", "écart", "paire"}
)
#: Beside one of the others they say which rows it is of.
_OF_WHAT: Final = frozenset(
    {"of", "all", "the", "rows", "parts", "n", "grand"}
    | {"von", "aller", "alle", "der", "teile", "zeilen", "arithmetisches"}
    | {"de", "des", "du", "la", "le", "les", "tous", "toutes", "pièces"}
    | {"général", "générale"}
    | {"di", "dei", "tutti", "generale", "los", "todos", "van"}
)
#: Also a compound between soft and hard, or a diameter: they say it of a row where
#: nothing stands before them alone.
_OF_TWO_MEANINGS: Final = frozenset({"mittel", "media", "média", "ø"})


def worked_out_word(cells: Sequence[str]) -> str:
    """
    Find the word by which a row is a sum, a mean or a count of others.

    Parameters
    ----------
    cells : sequence of str
        The row's cells from the left.

    Returns
    -------
    str
        The cell that says it, without blanks about it; empty where none does.

    Examples
    --------
    >>> worked_out_word(["Mittelwert", "", "18.42"])
    'Mittelwert'
    >>> worked_out_word(["7", "mittel", "18.42"])
    ''
    """
    is_first = True
    for cell in cells:
        text = cell.strip()
        if not text:
            continue
        words = frozenset(re.findall(r"[^\W\d_]+", text.casefold()))
        said = words & (_MEANS | _SUMS | _OF_TWO_MEANINGS)
        is_alone = is_first and not re.search(r"\d", text)
        if said <= _OF_TWO_MEANINGS and not is_alone:
            said = frozenset()
        if said and words <= said | _OF_WHAT:
            return text
        is_first = False
    return ""


def is_worked_out(words: frozenset[str]) -> bool:
    """
    Tell whether a heading is that of a column worked out of others.

    Parameters
    ----------
    words : frozenset of str
        Its words, in small letters.

    Returns
    -------
    bool
        A sum is none: what is summed may well be a size.

    Examples
    --------
    >>> is_worked_out(frozenset({"moyenne", "mm"}))
    True
    """
    return bool(words & (_MEANS | _SPREADS))
