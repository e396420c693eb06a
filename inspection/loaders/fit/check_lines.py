"""Checks as a page shows them: with their rules, and what keeps a part from fitting."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from django.utils.translation import gettext as _

from inspection.compute.fit import Check, CheckRow, CheckState
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.words.fit import check_words
from inspection.words.not_fitting import plain_words

_MARKS: Final[Mapping[CheckState, str]] = {
    CheckState.HOLDS: "yes",
    CheckState.WARNS: "caution",
    CheckState.TOO_CLOSE: "question",
    CheckState.FAILS: "no",
    CheckState.NOT_CHECKED: "caution",
    CheckState.NOT_MEASURED: "not measured",
}
#: These keep a part from fitting, the worse one first.
_AMISS: Final = (CheckState.FAILS, CheckState.NOT_MEASURED, CheckState.TOO_CLOSE)


@dataclass(frozen=True, kw_only=True)
class CheckLine:
    """One check as a page shows it."""

    row: CheckRow
    rule: LoadedRule | None

    @property
    def mark(self) -> str:
        """The mark that is drawn beside it."""
        return _MARKS[self.row.state]

    @property
    def plain(self) -> str:
        """What it means, to whoever asks whether the part fits."""
        words = plain_words(self.row)
        if self.rule is None or self.row.state is not CheckState.FAILS:
            return words
        filled_in = {"number": self.rule.number, "words": words}
        return _("Rule %(number)s: %(words)s") % filled_in

    @property
    def sentence(self) -> str:
        """What it found: value, limit and margin."""
        return check_words(self.row)

    @property
    def unit(self) -> str:
        """The unit beside its figures."""
        return _("teeth") if self.row.unit == "teeth" else self.row.unit

    @property
    def places(self) -> int:
        """Decimal places of its figures."""
        return 0 if self.row.unit == "teeth" else 2

    @property
    def has_figure(self) -> bool:
        """Whether its value says more than its sentence does."""
        return self.row.check is not Check.KIND


@dataclass(frozen=True, kw_only=True)
class Amiss:
    """What keeps a part from fitting, each kind of it apart."""

    failed: tuple[CheckLine, ...]
    unmeasured: tuple[CheckLine, ...]
    close: tuple[CheckLine, ...]

    def __bool__(self) -> bool:
        return bool(self.failed or self.unmeasured or self.close)


def what_is_amiss(checks: Sequence[CheckLine]) -> Amiss:
    """Give the checks that keep a part from fitting."""
    failed, unmeasured, close = (
        tuple(one for one in checks if one.row.state is state) for state in _AMISS
    )
    return Amiss(failed=failed, unmeasured=unmeasured, close=close)


def over_track(checks: Sequence[CheckLine]) -> CheckRow | None:
    """Give how far a gear clears the track; nothing where that is not measured."""
    rows = [one.row for one in checks if one.row.check is Check.GROUND]
    known = [row for row in rows if np.isfinite(row.value)]
    return min(known, key=lambda row: row.margin, default=None)


def check_lines(
    rows: Sequence[CheckRow], rules: tuple[LoadedRule, ...]
) -> tuple[CheckLine, ...]:
    """Give checks with their rules; what has room without end is left out."""
    return tuple(
        # A typed car has a limit and no rulebook that it is from.
        CheckLine(
            row=row, rule=rules[row.rule] if rules and row.rule is not None else None
        )
        for row in rows
        if not np.isinf(row.value)
    )
