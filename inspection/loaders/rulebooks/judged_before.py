"""
What rules said of the same values before: a reading judges what it touches, alone.

A rule's finding is kept by all that it rests on: its limits, how it is judged, and the
columns that its formula reads (`inputs_of`), value by value.  So nothing has to be
said when a value changes, and a miss costs that rule's judgement.  Findings are the
same to the digit as those of `evaluate`: `test_judged_before.py` changes each column
in turn.
"""

import hashlib
from dataclasses import fields
from functools import lru_cache
from typing import Any, Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from inspection.compute.judging import Findings, Rules, evaluate
from inspection.compute.quantities import QUANTITIES, FrontCarrier, column_owner
from inspection.compute.stance import Field, inputs_of
from inspection.loaders.grounds import ground_of
from inspection.loaders.kept import Kept

#: A night of a hundred cars has some ten thousand; each takes about a kilobyte.
MOST_KEPT: Final = 10_000

Key: TypeAlias = bytes
#: One finding, a number for each of the arrays of `Findings`.
Said: TypeAlias = tuple[Any, ...]

_NAMES: Final = tuple(one.name for one in fields(Findings))
_CARRIERS: Final = tuple(FrontCarrier)


_KEPT: Final = Kept[Key, Said](MOST_KEPT)


def judge_what_changed(rules: Rules, car: Field) -> Findings:
    """
    Judge one car by rules that all apply to it; as ``evaluate`` does.

    Only those rules are evaluated of which no finding of the same values is kept.
    """
    carrier = _carrier(car)
    if carrier is None or not rules.applies.all():
        return evaluate(rules, car)
    keys = _keys(rules, car, carrier)
    row_of_rule = [_KEPT.get(key) for key in keys]
    missing = np.flatnonzero([one is None for one in row_of_rule])
    if len(missing):
        some = rules.only(missing)
        keys_missing = {column_owner(car.columns[at])[0] for at in some.column.tolist()}
        stands = any(QUANTITIES[key].is_above_ground for key in keys_missing)
        ground = ground_of(car, carrier) if stands else None
        new = evaluate(some, car, ground=ground)
        rows = zip(*(getattr(new, name)[0] for name in _NAMES), strict=True)
        for at, row in zip(missing.tolist(), rows, strict=True):
            row_of_rule[at] = row
            _KEPT.put(keys[at], row)
    return _joined([one for one in row_of_rule if one is not None])


def _joined(rows: list[Said]) -> Findings:
    columns = zip(*rows, strict=True)
    return Findings(
        **{
            name: np.array(column)[None, :]
            for name, column in zip(_NAMES, columns, strict=True)
        }
    )


def _carrier(car: Field) -> FrontCarrier | None:
    """Give what carries a car's front, if that is known."""
    at = car.position("front_carrier")
    word = np.nan if at is None else car.value[0, at]
    return None if np.isnan(word) else _CARRIERS[round(float(word))]


def _keys(rules: Rules, car: Field, carrier: FrontCarrier) -> list[Key]:
    numbers = np.column_stack((rules.lower, rules.upper))
    how = f"{rules.decision_rule} {rules.confidence!r}"
    rests_on: dict[str, bytes] = {}
    keys = []
    asked = (rules.column, rules.mandatory, rules.taken_only)
    rows = zip(*(one.tolist() for one in asked), strict=True)
    for rule, (column, mandatory, taken_only) in enumerate(rows):
        key = column_owner(car.columns[column])[0]
        if key not in rests_on:
            rests_on[key] = _read(car, *_columns(car.columns, key, carrier))
        flags = f"{mandatory} {taken_only} {column}"
        digest = hashlib.blake2b(f"{key} {how} {flags} ".encode(), digest_size=16)
        digest.update(numbers[rule].tobytes())
        digest.update(rests_on[key])
        keys.append(digest.digest())
    return keys


def _read(car: Field, names: bytes, columns: NDArray[np.intp]) -> bytes:
    arrays: list[NDArray[Any]] = [car.value, car.random, car.systematic, car.gauge]
    if car.bound is not None:
        arrays.append(car.bound)
    return b"".join([names, *(one[0, columns].tobytes() for one in arrays)])


@lru_cache(maxsize=1_000)
def _columns(
    quantities: tuple[str, ...], key: str, carrier: FrontCarrier
) -> tuple[bytes, NDArray[np.intp]]:
    """Name the columns that a rule on a quantity reads, and say where they stand."""
    reads = {*inputs_of(key, carrier), "front_carrier"}
    if QUANTITIES[key].place is not None:
        # Whether a pass is held on the other three feet hangs on how the car rocks.
        reads |= inputs_of("twist", carrier)
    places = [at for at, column in enumerate(quantities) if column in reads]
    names = " ".join(quantities[at] for at in places)
    return names.encode(), np.array(places, dtype=np.intp)
