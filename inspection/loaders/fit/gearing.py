"""A car's gearing: what the stock makes of it, and how two gears mesh."""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from django.db.models import Count, QuerySet

from inspection.compute.fit import (
    LEAST_BACKLASH_MM,
    MOST_BACKLASH_MODULES,
    Envelope,
    Limits,
    mean_tyre_mm,
)
from inspection.loaders.fit.cars import CarNow
from inspection.loaders.fit.parts import (
    named_module_mm,
    usual_pitch_name,
)
from inventory.compute.arrays import Floats
from inventory.compute.gears import (
    LEAST_TEETH,
    MOST_TEETH,
    MeshState,
    mesh,
    rollout_mm,
    spur,
)
from inventory.compute.stock import GearRole
from inventory.models import Part

_STEP_MM: Final = 0.05
_MOST_STEPS: Final = 60
#: Nearer than these the gears jam all the same.
_JAMMED_SHOWN: Final = 2
#: Beyond the tight distance where the slot is not known.
_REACH_MM: Final = 0.6


@dataclass(frozen=True, kw_only=True)
class Ratio:
    """One pinion with one gear."""

    ratio: float
    rollout_mm: float | None
    is_now: bool
    is_allowed: bool


@dataclass(frozen=True, kw_only=True)
class RatioRow:
    """One gear with every pinion."""

    teeth: int
    count: int
    cells: tuple[Ratio, ...]


@dataclass(frozen=True, kw_only=True)
class Gearing:
    """The ratios that pinions and gears of one pitch make on a car."""

    pitch: str
    pitches: tuple[str, ...]
    pinions: tuple[int, ...]
    pinion_counts: tuple[int, ...]
    rows: tuple[RatioRow, ...]
    pinion_now: int | None
    gear_now: int | None
    ratio_limits: tuple[float | None, float | None]
    rollout_limits: tuple[float | None, float | None]


class MeshWord(StrEnum):
    """How two gears run at a distance, in a builder's words."""

    GOOD = "good"
    TIGHT = "tight"
    LOOSE = "loose"
    JAMMED = "jammed"
    OUT_OF_MESH = "out of mesh"

    @property
    def mark(self) -> str:
        """The mark that is drawn beside it."""
        if self is MeshWord.GOOD:
            return "yes"
        return "caution" if self in {MeshWord.TIGHT, MeshWord.LOOSE} else "no"


@dataclass(frozen=True, kw_only=True)
class MeshRow:
    """Two gears at one centre distance."""

    distance_mm: float
    backlash_mm: float
    contact_ratio: float | None
    enlarged_contact_ratio: float | None
    word: MeshWord


def load_gearing(car: CarNow, parts: QuerySet[Part], *, pitch: str = "") -> Gearing:
    """Load what the stock makes of a car's gearing, in two queries."""
    envelope = car.envelope
    role = GearRole.CROWN if bool(envelope.in_line[0]) else GearRole.SPUR
    gears, pinions = _by_pitch(parts, role), _by_pitch(parts, GearRole.PINION)
    on_car = _on_car(car)
    for (fitted, name), teeth in on_car.items():
        table = pinions if fitted is GearRole.PINION else gears
        table[name].setdefault(teeth, 0)
    pitches = sorted(gears.keys() & pinions.keys())
    # The pinion's pitch is the car's; one of no known pitch leaves it to the gear.
    on_car_by_role = sorted(on_car, key=lambda one: one[0] is not GearRole.PINION)
    now = [name for _, name in on_car_by_role]
    chosen = next((name for name in [pitch, *now, *pitches] if name in pitches), "")
    columns = dict(sorted(pinions.get(chosen, {}).items()))
    return Gearing(
        pitch=chosen,
        pitches=tuple(pitches),
        pinions=tuple(columns),
        pinion_counts=tuple(columns.values()),
        rows=_rows(envelope, columns, gears.get(chosen, {})),
        pinion_now=_whole(envelope.pinion.teeth),
        gear_now=_whole(envelope.gear.teeth),
        ratio_limits=_pair(envelope.limits("gear_ratio")),
        rollout_limits=_pair(envelope.limits("rollout")),
    )


def _rows(
    envelope: Envelope, pinions: Mapping[int, int], gears: Mapping[int, int]
) -> tuple[RatioRow, ...]:
    tyre = float(mean_tyre_mm(envelope)[0])
    now = _whole(envelope.pinion.teeth), _whole(envelope.gear.teeth)
    ratio_limits = envelope.limits("gear_ratio")
    rollout_limits = envelope.limits("rollout")

    def cell(pinion: int, gear: int) -> Ratio:
        ratio = gear / pinion
        rollout = None if math.isnan(tyre) else float(rollout_mm(tyre, ratio))
        return Ratio(
            ratio=ratio,
            rollout_mm=rollout,
            is_now=(pinion, gear) == now,
            is_allowed=_allows(ratio_limits, ratio)
            and (rollout is None or _allows(rollout_limits, rollout)),
        )

    return tuple(
        RatioRow(
            teeth=teeth,
            count=count,
            cells=tuple(cell(pinion, teeth) for pinion in pinions),
        )
        for teeth, count in sorted(gears.items())
    )


def mesh_rows(car: CarNow, *, pinion: int, gear: int, pitch: str) -> list[MeshRow]:
    """
    Say how two spur gears run at each distance that the motor's slot allows.

    Of those at which they jam, only the last are given.
    """
    module = named_module_mm(pitch)
    if math.isnan(module) or not _are_teeth(pinion, gear):
        return []
    pair = spur(pinion, module_mm=module), spur(gear, module_mm=module)
    tight = mesh(*pair).tight_centre_distance_mm
    distances = _distances(car.room_mm, tight)
    run = mesh(*pair, centre_distance_mm=distances)
    states = [tuple(MeshState)[code] for code in run.state]
    rows = [
        MeshRow(
            distance_mm=float(distance),
            backlash_mm=float(backlash),
            contact_ratio=None if np.isnan(contact) else float(contact),
            enlarged_contact_ratio=None if np.isnan(better) else float(better),
            word=_word(state, round(float(backlash), 6), module),
        )
        for distance, backlash, contact, better, state in zip(
            distances,
            run.backlash_mm,
            run.contact_ratio,
            run.enlarged_contact_ratio,
            states,
            strict=True,
        )
        # So near that the teeth have no angle at all.
        if not np.isnan(backlash)
    ]
    jammed = sum(row.word is MeshWord.JAMMED for row in rows)
    return rows[max(jammed - _JAMMED_SHOWN, 0) :]


def _word(state: MeshState, backlash_mm: float, module_mm: float) -> MeshWord:
    if state is not MeshState.GOOD:
        return MeshWord(state.value)
    if backlash_mm < LEAST_BACKLASH_MM:
        return MeshWord.TIGHT
    is_loose = backlash_mm > MOST_BACKLASH_MODULES * module_mm
    return MeshWord.LOOSE if is_loose else MeshWord.GOOD


def _by_pitch(parts: QuerySet[Part], role: GearRole) -> dict[str, dict[int, int]]:
    """Count parts of a role by pitch and teeth; those without a pitch are left out."""
    rows = (
        parts.filter(gear__role=role)
        .exclude(gear__pitch_name="")
        .order_by()
        .values_list("gear__pitch_name", "gear__teeth")
        .annotate(count=Count("pk"))
    )
    counts_by_pitch: dict[str, dict[int, int]] = defaultdict(dict)
    for pitch, teeth, count in rows:
        of_pitch = counts_by_pitch[usual_pitch_name(pitch)]
        of_pitch[teeth] = of_pitch.get(teeth, 0) + count
    return counts_by_pitch


def _on_car(car: CarNow) -> dict[tuple[GearRole, str], int]:
    teeth_by_gear: dict[tuple[GearRole, str], int] = {}
    for rows in car.fitted.values():
        row = rows[0]
        if row["gear_role"] and row["gear_pitch_name"]:
            key = GearRole(row["gear_role"]), usual_pitch_name(row["gear_pitch_name"])
            teeth_by_gear[key] = row["gear_teeth"]
    return teeth_by_gear


def _distances(room_mm: Mapping[str, float], tight: float) -> Floats:
    low = room_mm.get("slot_low_mm", math.nan)
    high = room_mm.get("slot_high_mm", math.nan)
    if math.isnan(low) or math.isnan(high):
        low, high = tight, tight + _REACH_MM
    steps = min(round((high - low) / _STEP_MM), _MOST_STEPS)
    between = low + _STEP_MM * np.arange(steps + 1)
    return np.unique(np.round(np.append(between[between <= high], [low, high]), 6))


def _are_teeth(*counts: int) -> bool:
    return all(LEAST_TEETH <= count <= MOST_TEETH for count in counts)


def _allows(limits: Limits, value: float) -> bool:
    low, high = limits.lower[0], limits.upper[0]
    return not (round(value, 6) < low or round(value, 6) > high)


def _pair(limits: Limits) -> tuple[float | None, float | None]:
    low, high = float(limits.lower[0]), float(limits.upper[0])
    return (None if math.isnan(low) else low), (None if math.isnan(high) else high)


def _whole(teeth: Iterable[float]) -> int | None:
    count = next(iter(teeth))
    return None if math.isnan(count) else int(count)
