"""
What is missing where a check was not measured: input by input, not in a sentence.

An input is named by whose it is and what: ``room.arch_width_mm``,
``car.axle_diameter``, ``pinion.module_mm``.  What is known is not named.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from inspection.compute.fit.checks import Check, CheckColumn, CheckState, CheckTable
from inspection.compute.fit.envelopes import Envelope, rule_key
from inspection.compute.quantities import FrontCarrier, columns_of
from inspection.compute.stance import readings_behind
from inspection.compute.what_if import (
    TYRES,
    Change,
    Gears,
    Motors,
    Pairs,
    Pinions,
    columns_of_change,
)
from inventory.compute.arrays import Bools, Floats

_HEIGHTS: Final = ("car.axle_height_rear_left", "car.axle_height_rear_right")
_AXIS: Final = (*_HEIGHTS, "car.motor_axis_height")
_TEETH: Final = ("gear.teeth", "pinion.teeth")
_SLOT: Final = (
    "room.slot_low_mm",
    "room.slot_high_mm",
    *_TEETH,
    "pinion.module_mm",
)
_OVER: Final = "gear.outside_diameter_mm"

#: What each check rests on; a rule's own inputs are its quantity's.
_INPUTS: Final[Mapping[Check, tuple[str, ...]]] = MappingProxyType(
    {
        Check.PITCH: ("gear.module_mm", "pinion.module_mm"),
        Check.CROWN_CUT: ("pinion.teeth",),
        Check.TEETH: _TEETH,
        Check.RATIO: _TEETH,
        Check.ROLLOUT: (*(f"car.{name}" for name in TYRES), *_TEETH),
        Check.DIAMETER: (_OVER,),
        Check.GROUND: (_OVER, "car.clearance_gear"),
        Check.CHASSIS_BAR: ("room.axle_to_bar_mm", _OVER),
        Check.ROOM: ("room.axle_room_mm", "gear.hub_width_mm"),
        Check.MESH: _SLOT,
        Check.CONTACT: _SLOT,
        Check.CONTACT_AS_CUT: _SLOT,
        Check.CROWN_SEAT: (
            "room.shaft_to_bearing_mm",
            "room.spacers_mm",
            "pinion.teeth",
            "pinion.module_mm",
            "gear.crown_depth_mm",
            "gear.hub_width_mm",
        ),
        Check.CROWN_FACE: (
            "room.shaft_end_mm",
            "motor.shaft_length_mm",
            "pinion.face_width_mm",
            _OVER,
            "gear.face_width_mm",
            *_AXIS,
        ),
        Check.SHAFT_END: ("room.shaft_end_mm", "car.axle_diameter"),
        Check.MOTOR_AXLE_OFFSET: _AXIS,
        Check.PINION_LENGTH: ("motor.shaft_length_mm", "pinion.length_mm"),
        Check.TYRE_WIDTH: ("room.arch_width_mm", "pair.width_mm"),
        Check.CAN_HEIGHT: ("room.bay_height_mm", "motor.can_height_mm"),
        Check.CAN_WIDTH: ("room.bay_width_mm", "motor.can_width_mm"),
        Check.CAN_LENGTH: ("room.bay_length_mm", "motor.can_length_mm"),
        Check.LIFT: (
            "room.lift_low_mm",
            "room.lift_high_mm",
            *_HEIGHTS,
            "motor.can_height_mm",
        ),
    }
)
_BORES: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "gear": ("car.axle_diameter", "gear.bore_mm"),
        "pinion": ("motor.shaft_diameter_mm", "pinion.bore_mm"),
        "motor": ("pinion.bore_mm", "motor.shaft_diameter_mm"),
        "pair": ("car.axle_diameter", "pair.bore_mm"),
    }
)
#: Whose fit asks every rule that it moves.
_CHANGES: Final = MappingProxyType({"motor": Change.MOTOR, "pair": Change.PAIR})


@dataclass(frozen=True, kw_only=True)
class Lacking:
    """An input that is not known: of the car, or of so many parts."""

    name: str
    is_of_the_part: bool
    rows: int


def lacking(
    parts: Gears | Pinions | Pairs | Motors, envelope: Envelope, table: CheckTable
) -> tuple[Lacking, ...]:
    """
    Name what keeps checks from being measured, each input once.

    Parameters
    ----------
    parts : Gears, Pinions, Pairs or Motors
        What was set against the car.
    envelope : Envelope
        One car.
    table : CheckTable
        What was found.

    Returns
    -------
    tuple of Lacking
        What is known already is not among them; the car's own before the parts'.

    Examples
    --------
    >>> from inspection.compute.fit.tyres_and_motors import tyre_fit
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact({"layout": [1.0], "axle_diameter": [2.38]})
    >>> envelope = Envelope(car=car, rulebook=Rules.within({}, columns=car.columns))
    >>> pairs = Pairs(
    ...     left_diameter_mm=np.array([20.0, 20.2]),
    ...     right_diameter_mm=np.array([20.0, 20.2]),
    ...     bore_mm=np.array([2.38, np.nan]),
    ...     width_mm=np.array([16.5, 16.0]),
    ... )
    >>> table = tyre_fit(pairs, envelope).table
    >>> [(one.name, one.rows) for one in lacking(pairs, envelope, table)]
    [('room.arch_width_mm', 2), ('pair.bore_mm', 1)]
    """
    whose = _WHOSE[type(parts)]
    inputs = [
        Lacking(
            name=name,
            is_of_the_part=name.startswith(f"{whose}."),
            rows=max(int(rows.sum()) for rows in of_name),
        )
        for name, of_name in _unknown(parts, envelope, table).items()
        if name
    ]
    return tuple(sorted(inputs, key=lambda one: one.is_of_the_part))


@dataclass(frozen=True, kw_only=True)
class Asking:
    """Inputs of the car to be measured together, and how many parts that decides."""

    names: tuple[str, ...]
    rows: int


def asking_order(
    parts: Gears | Pinions | Pairs | Motors, envelope: Envelope, table: CheckTable
) -> tuple[Asking, ...]:
    """
    Say what of the car to measure first: what most parts wait for alone.

    Parameters
    ----------
    parts : Gears, Pinions, Pairs or Motors
        What was set against the car.
    envelope : Envelope
        One car.
    table : CheckTable
        What was found.

    Returns
    -------
    tuple of Asking
        Groups in the order to measure them, each with how many parts can be judged
        once it is known and all before it are.  A part that fails a check already,
        or that lacks a size of its own, waits for nothing.

    Examples
    --------
    >>> from inspection.compute.fit.tyres_and_motors import tyre_fit
    >>> from inspection.compute.judging import Rules
    >>> from inspection.compute.stance import Field
    >>> car = Field.exact({"layout": [1.0], "axle_diameter": [2.38]})
    >>> envelope = Envelope(car=car, rulebook=Rules.within({}, columns=car.columns))
    >>> pairs = Pairs(
    ...     left_diameter_mm=np.array([20.0, 20.2]),
    ...     right_diameter_mm=np.array([20.0, 20.2]),
    ...     bore_mm=np.array([2.38, 2.38]),
    ...     width_mm=np.array([16.5, 16.0]),
    ... )
    >>> asking_order(pairs, envelope, tyre_fit(pairs, envelope).table)
    (Asking(names=('room.arch_width_mm',), rows=2),)
    """
    whose = _WHOSE[type(parts)]
    waits: dict[str, Bools] = {
        name: np.logical_or.reduce(of_name)
        for name, of_name in _unknown(parts, envelope, table).items()
    }
    is_open = ~_fails(table) & ~waits.pop("", np.zeros(table.row_count, np.bool_))
    for name, rows in waits.items():
        if name.startswith(f"{whose}."):
            is_open &= ~rows
    names = [name for name in waits if not name.startswith(f"{whose}.")]
    sets = Counter(
        frozenset(name for name in names if waits[name][row])
        for row in np.flatnonzero(is_open).tolist()
    )
    del sets[frozenset()]
    return tuple(_in_turn(sets, names))


def _in_turn(
    sets: Mapping[frozenset[str], int], names: Sequence[str]
) -> Iterator[Asking]:
    known: frozenset[str] = frozenset()
    while waiting := [one for one in sets if not one <= known]:

        def decided(fresh: frozenset[str], known: frozenset[str] = known) -> int:
            return sum(
                count
                for one, count in sets.items()
                if one <= known | fresh and not one <= known
            )

        fresh = max(
            (one - known for one in waiting),
            # The most parts a size; of equals the fewest sizes, then the first.
            key=lambda one: (
                decided(one) / len(one),
                -len(one),
                [-names.index(name) for name in sorted(one, key=names.index)],
            ),
        )
        yield Asking(names=tuple(sorted(fresh, key=names.index)), rows=decided(fresh))
        known |= fresh


def _fails(table: CheckTable) -> Bools:
    fails = np.zeros(table.row_count, dtype=np.bool_)
    for column in table.columns:
        fails |= column.state == CheckState.FAILS.code
    return fails


def _unknown(
    parts: Gears | Pinions | Pairs | Motors, envelope: Envelope, table: CheckTable
) -> dict[str, list[Bools]]:
    """
    Give each input that is not known, with the rows that wait for it, by check.

    Under no name are the rows of which it cannot be said what they wait for.
    """
    whose = _WHOSE[type(parts)]
    rows_by_input: dict[str, list[Bools]] = {}
    for column in table.columns:
        rows = np.broadcast_to(
            column.state == CheckState.NOT_MEASURED.code, (table.row_count,)
        )
        if not rows.any():
            continue
        untold = rows.copy()
        for name in _names(column, envelope, whose):
            values = _value(name, parts, envelope, whose)
            unknown = rows & np.broadcast_to(np.isnan(values), (table.row_count,))
            untold &= ~unknown
            if unknown.any():
                rows_by_input.setdefault(name, []).append(unknown)
        if untold.any():
            rows_by_input.setdefault("", []).append(untold)
    return rows_by_input


_WHOSE: Final[Mapping[type, str]] = MappingProxyType(
    {Gears: "gear", Pinions: "pinion", Motors: "motor", Pairs: "pair"}
)


def _names(column: CheckColumn, envelope: Envelope, whose: str) -> Iterator[str]:
    if column.check is Check.BORE:
        yield from _BORES[whose]
    elif column.rule is not None:
        yield from _of_a_rule(column.rule, envelope, whose)
    else:
        for name in _INPUTS.get(column.check, ()):
            yield from _behind(name, envelope)


def _of_a_rule(rule: int, envelope: Envelope, whose: str) -> Iterator[str]:
    key = rule_key(envelope.rulebook, envelope.car, rule)
    # What the part itself brings is not the car's to be measured.
    brought = frozenset(columns_of_change(_CHANGES[whose]))
    columns = readings_behind(key, _carrier(envelope)) or columns_of(key)
    yield from (f"car.{name}" for name in columns if name not in brought)


def _behind(name: str, envelope: Envelope) -> Iterator[str]:
    """Give the readings behind a column of the car that is derived."""
    owner, _, column = name.partition(".")
    behind: tuple[str, ...] = ()
    if owner == "car" and column in {"clearance_gear", "motor_axis_height"}:
        behind = readings_behind(column, _carrier(envelope))
    for one in behind:
        # The gear itself is what is looked for.
        if one != "gear_diameter":
            yield f"car.{one}"
    if not behind:
        yield name


def _carrier(envelope: Envelope) -> FrontCarrier:
    code = envelope.column("front_carrier")[0]
    return tuple(FrontCarrier)[0 if np.isnan(code) else int(code)]


def _value(
    name: str,
    parts: Gears | Pinions | Pairs | Motors,
    envelope: Envelope,
    whose: str,
) -> Floats:
    owner, _, what = name.partition(".")
    if owner == whose:
        return np.asarray(getattr(parts, what))
    if owner == "room":
        return np.asarray(getattr(envelope.mounting, what))
    if owner == "car":
        return envelope.column(what)
    return np.asarray(getattr(getattr(envelope, owner), what))
