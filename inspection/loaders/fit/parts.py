"""Parts of the inventory as the tables that a fit takes, many at once."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from itertools import islice
from types import MappingProxyType
from typing import Any, Final

import numpy as np
from django.db.models import FilteredRelation, Q, QuerySet
from numpy.typing import NDArray

from inspection.compute.what_if import Doubt, Gears, Motors, Pinions
from inspection.loaders.block.values import GaugeKey
from inventory.compute.arrays import Floats, Ints
from inventory.compute.gears import PITCHES, sure_modules_mm
from inventory.compute.numbers import MILLION
from inventory.compute.stock import (
    KINDS,
    Fixing,
    GearRole,
    PartKind,
    PartQuantity,
    PartState,
)
from inventory.models import Part, Person

#: Of a gear whose pitch is not recorded and whose gauge is not asked for.
_USUAL_U_MM: Final = 0.023
_INCH_MM: Final = 25.4

_DOUBT: Final = ("random", "systematic", "gauge_mode__gauge", "gauge_check")
#: The readings of a field of cars are off fewer gauges than this.
_BEYOND_CARS: Final = 1_000_000
_MOTOR_SIZES: Final[Mapping[str, PartQuantity]] = MappingProxyType(
    {
        "can_height_mm": PartQuantity.CAN_HEIGHT,
        "can_width_mm": PartQuantity.CAN_WIDTH,
        "can_length_mm": PartQuantity.CAN_LENGTH,
        "shaft_diameter_mm": PartQuantity.SHAFT_DIAMETER,
        "speed_rpm": PartQuantity.MOTOR_SPEED,
        "resistance_ohm": PartQuantity.MOTOR_RESISTANCE,
    }
)

#: As they are typed: what a table's column of pitches is known by, read here.
_PITCH: Final = re.compile(
    r"(?:(?P<pitch>\d+) ?(?:pitch|dp)|(?:module|mod\.?|m) ?(?P<module>\d*[.,]?\d+))"
)


@dataclass(frozen=True, kw_only=True, eq=False)
class PartColumns:
    """
    Parts of one kind, a row each: what they are and their sizes, NaN unknown.

    Without ``doubts`` the sizes are taken to be exact.
    """

    pk: Ints
    facts: Mapping[str, Sequence[Any]]
    sizes: Mapping[PartQuantity, Floats]
    doubts: Mapping[PartQuantity, Doubt]

    def __len__(self) -> int:
        return len(self.pk)


def to_be_had(person: Person | None) -> Q:
    """
    Parts in the drawers: the club's, a person's own, what others share.

    And what is kept for them.
    """
    if person is None:
        return Q(state=PartState.IN_STOCK, owner=None)
    own = Q(owner=None) | Q(owner=person) | Q(is_shared=True)
    return own & (
        Q(state=PartState.IN_STOCK) | Q(state=PartState.RESERVED, holder=person)
    )


def gauges_of_parts() -> dict[GaugeKey, int]:
    """Begin to number the gauges of parts beyond those of any car that they go on."""
    return {(-1, None): _BEYOND_CARS}


def load_columns(
    parts: QuerySet[Part],
    kind: PartKind,
    *,
    gauges: dict[GaugeKey, int] | None = None,
) -> PartColumns:
    """
    Load parts of one kind with their current sizes, in one query.

    With ``gauges``, which numbers those that a car was read with, how well each size
    is known is loaded too, and what other gauges there are get the next numbers in
    it; else the sizes are taken to be exact.
    """
    declared = KINDS[kind]
    names = {one.quantity: f"of_{one.quantity.value}" for one in declared.sizes}
    fact_names = [fact.name for fact in declared.fact_list]
    doubted = () if gauges is None else tuple(names.values())
    wanted = [
        "pk",
        *(f"{kind.value}__{fact}" for fact in fact_names),
        *(f"{name}__value" for name in names.values()),
        *(f"{name}__{one}" for name in doubted for one in _DOUBT),
    ]
    rows = (
        parts.filter(kind=kind)
        .order_by("pk")
        .annotate(**{name: _current(quantity) for quantity, name in names.items()})
        .values_list(*wanted)
    )
    columns = iter(list(zip(*rows, strict=True)) or [()] * len(wanted))
    pk = np.array(next(columns), dtype=np.int64)
    facts = {fact: next(columns) for fact in fact_names}
    sizes = {quantity: _floats(next(columns)) for quantity in names}
    return PartColumns(
        pk=pk,
        facts=facts,
        sizes=sizes,
        doubts={}
        if gauges is None
        else {quantity: _doubt(columns, gauges) for quantity in names},
    )


def _current(quantity: PartQuantity) -> FilteredRelation:
    return FilteredRelation(
        "estimates",
        condition=Q(estimates__superseded_at=None, estimates__quantity=quantity),
    )


def _floats(column: Sequence[int | None]) -> Floats:
    return np.array(column, dtype=np.float64) / MILLION


def _doubt(columns: Iterator[Any], gauges: dict[GaugeKey, int]) -> Doubt:
    random, systematic, gauge, check = islice(columns, len(_DOUBT))
    keys = list(zip(gauge, check, strict=True))
    # A gauge that the car was not read with gets the next free number.
    for key in keys:
        if key[0] is not None and key not in gauges:
            gauges[key] = max(gauges.values(), default=-1) + 1
    return Doubt(
        random=np.nan_to_num(_floats(random)),
        systematic=np.nan_to_num(_floats(systematic)),
        gauge=np.array([gauges.get(key, -1) for key in keys], dtype=np.int64),
    )


def fact_column(kind: PartKind, name: str) -> str:
    """Name the column of a fact where rows are parts of several kinds."""
    return f"{kind.value}_{name}"


def columns_of_part(rows: Sequence[Mapping[str, Any]], kind: PartKind) -> PartColumns:
    """Give one part of which there is a row for each size that is known."""
    declared = KINDS[kind]
    known = {row["quantity"]: row for row in rows}
    first, nothing = rows[0], {"value": None, "random": None, "systematic": None}
    return PartColumns(
        pk=np.array([first["pk"]]),
        facts={
            fact.name: (first[fact_column(kind, fact.name)],)
            for fact in declared.fact_list
        },
        sizes={
            one.quantity: _floats((known.get(one.quantity, nothing)["value"],))
            for one in declared.sizes
        },
        doubts={
            one.quantity: Doubt(
                random=np.nan_to_num(_floats((of_size["random"],))),
                systematic=np.nan_to_num(_floats((of_size["systematic"],))),
                gauge=np.full(1, -1, dtype=np.int64),
            )
            for one in declared.sizes
            for of_size in [known.get(one.quantity, nothing)]
        },
    )


def gears_of(columns: PartColumns) -> Gears:
    """Write spurs and crowns as a table."""
    size = columns.sizes
    return Gears(
        teeth=np.array(columns.facts["teeth"], dtype=np.float64),
        outside_diameter_mm=size[PartQuantity.GEAR_DIAMETER],
        module_mm=modules_of(columns),
        family=_words(columns.facts["family"]),
        role=_codes(columns.facts["role"], GearRole),
        bore_mm=size[PartQuantity.BORE],
        fixing=_codes(columns.facts["fixing"], Fixing),
        hub_width_mm=size[PartQuantity.HUB_WIDTH],
        face_width_mm=size[PartQuantity.FACE_WIDTH],
        crown_depth_mm=size[PartQuantity.CROWN_DEPTH],
        cut_for_teeth=np.array(columns.facts["cut_for_teeth"], dtype=np.float64),
        doubts=_named(
            columns,
            {
                "outside_diameter_mm": PartQuantity.GEAR_DIAMETER,
                "bore_mm": PartQuantity.BORE,
                "hub_width_mm": PartQuantity.HUB_WIDTH,
            },
        ),
        mass_g=size[PartQuantity.MASS],
    )


def pinions_of(columns: PartColumns) -> Pinions:
    """Write pinions as a table; a pinion's hub width is its whole length."""
    size = columns.sizes
    return Pinions(
        teeth=np.array(columns.facts["teeth"], dtype=np.float64),
        module_mm=modules_of(columns),
        family=_words(columns.facts["family"]),
        bore_mm=size[PartQuantity.BORE],
        fixing=_codes(columns.facts["fixing"], Fixing),
        face_width_mm=size[PartQuantity.FACE_WIDTH],
        length_mm=size[PartQuantity.HUB_WIDTH],
        doubts=_named(columns, {"bore_mm": PartQuantity.BORE}),
    )


def motors_of(columns: PartColumns) -> Motors:
    """Write motors as a table, their cans as they were measured."""
    size = columns.sizes
    return Motors(
        can_height_mm=size[PartQuantity.CAN_HEIGHT],
        can_width_mm=size[PartQuantity.CAN_WIDTH],
        can_length_mm=size[PartQuantity.CAN_LENGTH],
        shaft_diameter_mm=size[PartQuantity.SHAFT_DIAMETER],
        shaft_length_mm=size[PartQuantity.SHAFT_LENGTH],
        speed_rpm=size[PartQuantity.MOTOR_SPEED],
        resistance_ohm=size[PartQuantity.MOTOR_RESISTANCE],
        doubts=_named(columns, _MOTOR_SIZES),
        mass_g=size[PartQuantity.MASS],
    )


def _named(
    columns: PartColumns, quantities: Mapping[str, PartQuantity]
) -> dict[str, Doubt]:
    return {
        name: columns.doubts[quantity]
        for name, quantity in quantities.items()
        if quantity in columns.doubts
    }


def modules_of(columns: PartColumns) -> Floats:
    """Give each gear's module: as recorded, else as its size leaves no doubt."""
    names = columns.facts["pitch_name"]
    module = np.array([named_module_mm(name) for name in names], dtype=np.float64)
    crown = _codes(columns.facts["role"], GearRole) == _code(GearRole.CROWN)
    unmarked = np.flatnonzero(np.isnan(module) & ~crown)
    if len(unmarked):
        none = Doubt.none(len(columns))
        doubt = columns.doubts.get(PartQuantity.GEAR_DIAMETER, none)
        u_mm = np.hypot(doubt.random, doubt.systematic)[unmarked]
        module[unmarked] = sure_modules_mm(
            np.array(columns.facts["teeth"], dtype=np.float64)[unmarked],
            outside_diameter_mm=columns.sizes[PartQuantity.GEAR_DIAMETER][unmarked],
            u_mm=np.where(u_mm > 0.0, u_mm, _USUAL_U_MM),
        )
    return module


@lru_cache(maxsize=512)
def named_module_mm(name: str) -> float:
    """Read a pitch as it is recorded, “64 pitch” or “module 0.4”; NaN if neither."""
    for pitch in PITCHES:
        if pitch.name == name:
            return pitch.module_mm
    match = _PITCH.fullmatch(name.strip().casefold())
    if match is None:
        return float("nan")
    if match["pitch"]:
        per_inch = int(match["pitch"])
        return _INCH_MM / per_inch if per_inch else float("nan")
    return float(match["module"].replace(",", ".")) or float("nan")


def _words(column: Sequence[str]) -> NDArray[np.str_]:
    return np.array(column, dtype=np.str_)


def _codes(column: Sequence[str], words: type[StrEnum]) -> NDArray[np.int8]:
    code = {word.value: at for at, word in enumerate(words)}
    return np.array([code[word] for word in column], dtype=np.int8)


def _code(word: StrEnum) -> int:
    return tuple(type(word)).index(word)


def usual_pitch_name(name: str) -> str:
    """Give the name that pitches are sorted by: 48 DP is 48 pitch."""
    text = name.strip().casefold()
    match = _PITCH.fullmatch(text)
    if match is None:
        return text
    if match["pitch"]:
        return f"{match['pitch']} pitch"
    return f"module {match['module'].replace(',', '.')}"
