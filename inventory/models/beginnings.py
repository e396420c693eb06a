"""Looking up how a text begins, by an index, on both databases."""

from typing import Any

from django.db.models import CharField, Lookup, TextField
from django.db.models.functions import Lower

#: Sorts after whatever may follow the beginning of a text.
_LAST = "\U0010ffff"


@CharField.register_lookup
@TextField.register_lookup
class Begins(Lookup):
    """
    ``column__begins``: the text begins with this, letter by letter.

    SQLite's LIKE takes small and capital letters for the same and passes its indexes
    by, so there it is a range; PostgreSQL sorts by its own language's rules, in which
    a range is no beginning, so there it is LIKE over an index of patterns.
    """

    lookup_name = "begins"

    def as_sql(
        self, compiler: Any, connection: Any
    ) -> tuple[str, tuple[str | int, ...]]:
        lhs, lhs_params = self.process_lhs(compiler, connection)
        if connection.vendor == "sqlite":
            between = (*lhs_params, self.rhs, *lhs_params, f"{self.rhs}{_LAST}")
            return f"({lhs} >= %s AND {lhs} < %s)", between
        pattern = f"{connection.ops.prep_for_like_query(self.rhs)}%"
        return f"{lhs} LIKE %s", (*lhs_params, pattern)


CharField.register_lookup(Lower, "folded")


def folded_forms(text: str) -> set[str]:
    """
    Write a text in each way in which the databases may have folded what it means.

    PostgreSQL knows every letter, SQLite those of ASCII: there an accented capital
    stays one.
    """
    forms = (text.lower(), _in_ascii(text), _in_ascii(text.capitalize()))
    return set(forms)


def _in_ascii(text: str) -> str:
    return "".join(sign.lower() if sign.isascii() else sign for sign in text)
