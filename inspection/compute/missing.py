"""What to measure so that a rule can be judged on one car."""

import numpy as np

from inspection.compute.conformity import Outcome
from inspection.compute.derivations import (
    AXLE_HEIGHT_NEEDS,
    AXLE_HEIGHTS,
    Derivation,
)
from inspection.compute.fields import Field
from inspection.compute.quantities import (
    COLUMNS,
    OUTLINE_CORNERS,
    QUANTITIES,
    FrontCarrier,
    Quantity,
    column_owner,
)
from inspection.compute.rule_arrays import Findings, Rules


def missing_inputs(
    rulebook: Rules, field: Field, findings: Findings, *, car: int = 0
) -> tuple[tuple[str, ...], ...]:
    """
    Name the columns whose lack keeps each rule from being judged.

    Parameters
    ----------
    rulebook : Rules
        The rules, for these cars.
    field : Field
        The cars.
    findings : Findings
        What the rules found.
    car : int
        Which car.

    Returns
    -------
    tuple of tuple of str
        For each rule, in the registry's order: nothing where it was judged; the
        quantity itself where its readings are there and yet give no value.
    """
    search = _Search(field.take(np.array([car])))
    return tuple(
        _for_rule(search, field.quantities[column], taken_only=bool(only))
        if code == Outcome.NOT_MEASURED.code
        else ()
        for column, only, code in zip(
            rulebook.column, rulebook.taken_only, findings.outcome[car], strict=True
        )
    )


def _for_rule(search: "_Search", column: str, *, taken_only: bool) -> tuple[str, ...]:
    row = QUANTITIES[column_owner(column)[0]]
    if not row.has_formula:
        found = {name for own in row.columns for name in search.lacking(own)}
    elif taken_only or search.is_bound(row.key):
        found = {row.key}
    else:
        found = search.below(row) or {row.key}
    return tuple(name for name in COLUMNS if name in found)


class _Search:
    """The readings that one car lacks."""

    def __init__(self, car: Field) -> None:
        self._derivation = Derivation(car, traced=False)
        code = self._derivation.reading("front_carrier").value[0]
        self._carrier = None if np.isnan(code) else tuple(FrontCarrier)[int(code)]

    def is_bound(self, column: str) -> bool:
        return bool(self._derivation.reading(column).bound[0])

    def is_read(self, column: str) -> bool:
        return not np.isnan(self._derivation.reading(column).value[0])

    def is_known(self, column: str) -> bool:
        return not np.isnan(self._derivation.column(column).value[0])

    def below(self, row: Quantity) -> set[str]:
        """Columns to measure for a quantity to be derived."""
        return {name for needed in self._needs(row) for name in self.lacking(needed)}

    def _needs(self, row: Quantity) -> tuple[str, ...]:
        if self._carrier is None:
            kinds = [set(row.needs_of(carrier) or ()) for carrier in FrontCarrier]
            return tuple(set.intersection(*kinds))
        return row.needs_of(self._carrier) or ()

    def lacking(self, column: str) -> set[str]:
        row = QUANTITIES[column_owner(column)[0]]
        if column.startswith("outline_"):
            corners = self._unfinished_corners()
            return self.below(row) if corners is None else corners
        if self.is_known(column):
            return set()
        if column in AXLE_HEIGHTS and self.is_read(column):
            return {
                name
                for name, word in AXLE_HEIGHT_NEEDS.items()
                if self._derivation.reading(word).value[0] > 0
                and not self.is_known(name)
            }
        if not row.has_formula:
            return {column}
        return self.below(row) or {column}

    def _unfinished_corners(self) -> set[str] | None:
        """Name what the corners that are begun lack; ``None`` where none is begun."""
        begun = [
            k for k in range(1, OUTLINE_CORNERS + 1) if self.is_known(f"outline_{k}_x")
        ]
        if not begun:
            return None
        rest = {f"outline_{k}_{axis}" for k in begun for axis in "yz"}
        return {name for name in rest if not self.is_known(name)}
