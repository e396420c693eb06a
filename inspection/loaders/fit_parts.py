"""Parts of the inventory as the tables that a fit takes, many at once."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Any, Final, TypeAlias

import numpy as np
from django.db.models import FilteredRelation, Q, QuerySet
from numpy.typing import NDArray

from inspection.compute.fit import Gears, Motors, Pinions
from inspection.loaders.values import GaugeKey
from inventory.compute.gearing import PITCHES
from inventory.compute.likely_pitches import sure_modules_mm
from inventory.compute.stock import (
    Fixing,
    GearRole,
    PartKind,
    PartQuantity,
    PartState,
)
from inventory.models import Part, Person

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]

_MILLION: Final = 1_000_000
#: Of a gear whose pitch is not recorded and whose gauge is not asked for.
_USUAL_U_MM: Final = 0.023
_INCH_MM: Final = 25.4

#: What is loaded of a part besides its sizes.
FACTS: Final[Mapping[PartKind, tuple[str, ...]]] = {
    PartKind.TYRE: ("compound", "width_code", "wheel"),
    PartKind.GEAR: (
        "teeth",
        "role",
        "pitch_name",
        "family",
        "fixing",
        "cut_for_teeth",
    ),
    PartKind.MOTOR: ("family",),
}
#: The sizes that are loaded of a part, the one by which it is known first.
SIZES: Final[Mapping[PartKind, tuple[PartQuantity, ...]]] = {
    PartKind.TYRE: (
        PartQuantity.TYRE_DIAMETER,
        PartQuantity.TYRE_WIDTH,
        PartQuantity.BORE,
        PartQuantity.TYRE_HARDNESS,
        PartQuantity.OUT_OF_ROUND,
        PartQuantity.TAPER,
        PartQuantity.MASS,
    ),
    PartKind.GEAR: (
        PartQuantity.GEAR_DIAMETER,
        PartQuantity.BORE,
        PartQuantity.HUB_WIDTH,
        PartQuantity.FACE_WIDTH,
        PartQuantity.CROWN_DEPTH,
        PartQuantity.MASS,
    ),
    PartKind.MOTOR: (
        PartQuantity.CAN_HEIGHT,
        PartQuantity.CAN_WIDTH,
        PartQuantity.CAN_LENGTH,
        PartQuantity.SHAFT_DIAMETER,
        PartQuantity.SHAFT_LENGTH,
        PartQuantity.MOTOR_SPEED,
        PartQuantity.MOTOR_RESISTANCE,
        PartQuantity.MASS,
    ),
}
_PITCH: Final = re.compile(r"(?:(?P<pitch>\d+) pitch|module (?P<module>\d*[.,]?\d+))")


@dataclass(frozen=True, kw_only=True, eq=False)
class Doubt:
    """How well the size is known by which parts are known, and off which gauge."""

    random_mm: Floats
    systematic_mm: Floats
    gauge: Ints


@dataclass(frozen=True, kw_only=True, eq=False)
class PartColumns:
    """Parts of one kind, a row each: what they are and their sizes, NaN unknown."""

    pk: Ints
    facts: Mapping[str, Sequence[Any]]
    sizes: Mapping[PartQuantity, Floats]
    doubt: Doubt

    def __len__(self) -> int:
        return len(self.pk)


def to_be_had(person: Person | None) -> Q:
    """Parts in the drawers: the club's and a person's own, or kept for them."""
    if person is None:
        return Q(state=PartState.IN_STOCK, owner=None)
    own = Q(owner=None) | Q(owner=person)
    return own & (
        Q(state=PartState.IN_STOCK) | Q(state=PartState.RESERVED, holder=person)
    )


def load_columns(
    parts: QuerySet[Part],
    kind: PartKind,
    *,
    gauges: Mapping[GaugeKey, int] | None = None,
) -> PartColumns:
    """
    Load parts of one kind with their current sizes, in one query.

    With ``gauges``, which numbers those that a car was read with, how well each is
    known is loaded too; else it is taken to be exact.
    """
    names = {quantity: f"of_{quantity.value}" for quantity in SIZES[kind]}
    main = names[SIZES[kind][0]]
    doubt = ("random", "systematic", "gauge_mode__gauge", "gauge_check")
    wanted = [
        "pk",
        *(f"{kind.value}__{fact}" for fact in FACTS[kind]),
        *(f"{name}__value" for name in names.values()),
        *(() if gauges is None else (f"{main}__{one}" for one in doubt)),
    ]
    rows = (
        parts.filter(kind=kind)
        .order_by("pk")
        .annotate(**{name: _current(quantity) for quantity, name in names.items()})
        .values_list(*wanted)
    )
    columns = iter(list(zip(*rows, strict=True)) or [()] * len(wanted))
    pk = np.array(next(columns), dtype=np.int64)
    facts = {fact: next(columns) for fact in FACTS[kind]}
    sizes = {quantity: _floats(next(columns)) for quantity in SIZES[kind]}
    return PartColumns(
        pk=pk,
        facts=facts,
        sizes=sizes,
        doubt=_no_doubt(len(pk)) if gauges is None else _doubt(columns, gauges),
    )


def _current(quantity: PartQuantity) -> FilteredRelation:
    return FilteredRelation(
        "estimates",
        condition=Q(estimates__superseded_at=None, estimates__quantity=quantity),
    )


def _floats(column: Sequence[int | None]) -> Floats:
    return np.array(column, dtype=np.float64) / _MILLION


def _no_doubt(count: int) -> Doubt:
    return Doubt(
        random_mm=np.zeros(count),
        systematic_mm=np.zeros(count),
        gauge=np.full(count, -1, dtype=np.int64),
    )


def _doubt(columns: Any, gauges: Mapping[GaugeKey, int]) -> Doubt:
    random, systematic, gauge, check = columns
    keys = list(zip(gauge, check, strict=True))
    # A gauge that the car was not read with gets the next free number.
    more = dict.fromkeys(k for k in keys if k[0] is not None and k not in gauges)
    first = max(gauges.values(), default=-1) + 1
    number = dict(gauges) | {key: first + at for at, key in enumerate(more)}
    return Doubt(
        random_mm=np.nan_to_num(_floats(random)),
        systematic_mm=np.nan_to_num(_floats(systematic)),
        gauge=np.array([number.get(key, -1) for key in keys], dtype=np.int64),
    )


def columns_of_part(rows: Sequence[Mapping[str, Any]], kind: PartKind) -> PartColumns:
    """Give one part of which there is a row for each size that is known."""
    known = {row["quantity"]: row for row in rows}
    first, nothing = rows[0], {"value": None, "random": None, "systematic": None}
    main = known.get(SIZES[kind][0], nothing)
    return PartColumns(
        pk=np.array([first["pk"]]),
        facts={fact: (first[fact],) for fact in FACTS[kind]},
        sizes={
            quantity: _floats((known.get(quantity, nothing)["value"],))
            for quantity in SIZES[kind]
        },
        doubt=Doubt(
            random_mm=np.nan_to_num(_floats((main["random"],))),
            systematic_mm=np.nan_to_num(_floats((main["systematic"],))),
            gauge=np.full(1, -1, dtype=np.int64),
        ),
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
        random_mm=columns.doubt.random_mm,
        systematic_mm=columns.doubt.systematic_mm,
        gauge=columns.doubt.gauge,
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
        random_mm=columns.doubt.random_mm,
        systematic_mm=columns.doubt.systematic_mm,
        gauge=columns.doubt.gauge,
        mass_g=size[PartQuantity.MASS],
    )


def modules_of(columns: PartColumns) -> Floats:
    """Give each gear's module: as recorded, else as its size leaves no doubt."""
    names = columns.facts["pitch_name"]
    module = np.array([named_module_mm(name) for name in names], dtype=np.float64)
    crown = _codes(columns.facts["role"], GearRole) == _code(GearRole.CROWN)
    unmarked = np.flatnonzero(np.isnan(module) & ~crown)
    if len(unmarked):
        doubt = columns.doubt
        u_mm = np.hypot(doubt.random_mm, doubt.systematic_mm)[unmarked]
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
