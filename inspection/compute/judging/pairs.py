"""
Every value of a field of cars beside each rule that judges it, as arrays.

Cars first, pairs second; values in each rule's unit.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.geometry import Traced
from inspection.compute.judging.candidates import Candidates
from inspection.compute.judging.conformity import Judgement
from inspection.compute.judging.rule_arrays import Rules
from inspection.compute.judging.two_slips import try_limit_slips
from inventory.compute.arrays import Bools, Codes, Floats, Ints

Judged: TypeAlias = Judgement[Codes, Bools, Floats]
ScalarT = TypeVar("ScalarT", bound=np.generic)


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairs:
    """
    Every candidate beside the rule that judges it.

    ``rule``, ``point`` and ``taken`` are ``(pairs,)``, the rest ``(cars, pairs)``;
    ``half_width`` and ``slips_u`` are 0 but where two slips were read.  ``traced``
    has how far each reading moves a pair's value.
    """

    rule: Ints
    point: Codes
    taken: Bools
    value: Floats
    u: Floats
    present: Bools
    bound: Codes
    traced: tuple[Traced, ...]
    half_width: Floats
    slips_u: Floats

    @cached_property
    def starts(self) -> Ints:
        """Where each rule's pairs begin."""
        return np.flatnonzero(np.diff(self.rule, prepend=-1))

    def over_places(self, of: np.ufunc, table: NDArray[ScalarT]) -> NDArray[ScalarT]:
        """
        Take the least or the most of each rule's pairs.

        Parameters
        ----------
        of : ufunc
            `numpy.minimum` or `numpy.maximum`; NaN stays NaN.
        table : (pairs, cars) ndarray
            A pair is one run of memory.

        Returns
        -------
        (rules, cars) ndarray
            Of the same type.
        """
        over_all = np.empty((len(self.starts), table.shape[1]), dtype=table.dtype)
        for rules, pairs in self._alike:
            over_all[rules] = of.reduce(table[pairs], axis=1)
        return over_all

    @cached_property
    def _alike(self) -> list[tuple[Ints, Ints]]:
        """Rules of as many pairs, ``(n,)``, and those, ``(n, pairs)``."""
        counts = np.diff(np.append(self.starts, len(self.rule)))
        alike = [(n, np.flatnonzero(counts == n)) for n in sorted(set(counts.tolist()))]
        return [
            (rules, self.starts[rules][:, None] + np.arange(count))
            for count, rules in alike
        ]


@dataclass(frozen=True, kw_only=True, eq=False)
class JudgedPairs:
    """
    How each pair is judged, and by which critical value if not the normal one.

    ``places``: with how many of its rule it was judged together, 0 for alone.
    """

    by: Judged
    critical: Floats
    places: Codes


def make_pairs(
    rules: Rules, keys: list[str], candidates: Candidates, *, cars: int
) -> Pairs:
    """
    Set every candidate beside the rule that judges it.

    Parameters
    ----------
    rules : Rules
        The rules, for these cars.
    keys : list of str
        The quantity of each rule.
    candidates : Candidates
        What the cars have of them.
    cars : int
        How many cars there are.

    Returns
    -------
    Pairs
        In the rules' order.
    """
    pairs = [
        (rule, try_limit_slips(one, float(rules.lower[rule]), float(rules.upper[rule])))
        for rule, key in enumerate(keys)
        for one in candidates.to_judge(key, taken_only=bool(rules.taken_only[rule]))
    ]
    ones = [one for _, one in pairs]

    def table(arrays: list[NDArray[ScalarT]], kind: type[ScalarT]) -> NDArray[ScalarT]:
        return np.array(arrays, dtype=kind).reshape(len(pairs), cars).T

    return Pairs(
        rule=np.array([rule for rule, _ in pairs], dtype=np.int64),
        point=np.array([one.point.code for one in ones], dtype=np.int8),
        taken=np.array([one.taken for one in ones], dtype=np.bool_),
        value=table([one.value for one in ones], np.float64),
        u=table([one.u for one in ones], np.float64),
        present=table([one.present for one in ones], np.bool_),
        bound=table([one.bound for one in ones], np.int8),
        traced=tuple(one.traced for one in ones),
        half_width=_slips([one.half_width for one in ones], cars=cars),
        slips_u=_slips([one.slips_u for one in ones], cars=cars),
    )


def _slips(arrays: list[Floats | None], *, cars: int) -> Floats:
    """Give what two slips say; one page of zeros where nobody read with two."""
    shape = (cars, len(arrays))
    if all(one is None for one in arrays):
        return np.broadcast_to(0.0, shape)
    nothing = np.zeros(cars)
    return np.array([nothing if one is None else one for one in arrays]).T
