"""What the pairing page shows of a bag: rows for its tables, and its strip chart."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.compute.numbers import decimals_beside
from inventory.compute.pairing import (
    Asked,
    Feature,
    PairedBag,
    PairingWay,
    RejectReason,
    TruingPlan,
    drifts_of,
)
from inventory.drawing.numbers import shown_number
from inventory.drawing.strip import Strip, StripGroup
from inventory.loaders.batches import LoadedBag


@dataclass(frozen=True, kw_only=True)
class ShownTyre:
    """A tyre in a table."""

    tag: str
    name: str
    mm: float
    drawer: str = ""


@dataclass(frozen=True, kw_only=True)
class ShownSet:
    """A pair or set in the table of them, the smallest tyre first."""

    number: int
    tyres: list[ShownTyre]
    difference_mm: float
    percent: float
    drift_mm: float | None
    group: str
    #: Its tyres on the scale of all that are shown, as a path of the chart.
    path: str = ""


#: The chart of pairs is so wide; it is stretched to the width of the screen.
CHART_WIDTH: Final = 1000
_CHART_EDGE: Final = 12


@dataclass(frozen=True, kw_only=True)
class PairScale:
    """The sizes that the chart of pairs reaches over, mm."""

    low: float
    high: float

    def at(self, size_mm: float) -> float:
        """Give a size's place across the chart."""
        room = CHART_WIDTH - 2 * _CHART_EDGE
        span = self.high - self.low
        share = (size_mm - self.low) / span if span > 0 else 0.5
        return _CHART_EDGE + room * share

    def path_of(self, sizes_mm: Sequence[float]) -> str:
        """Draw a tick for each tyre, and the link between them."""
        places = sorted(self.at(size) for size in sizes_mm)
        ticks = "".join(f"M{place:.1f} 3V21" for place in places)
        return f"{ticks}M{places[0]:.1f} 12H{places[-1]:.1f}"


def scale_of(sets: Sequence[ShownSet]) -> PairScale:
    """Give the scale of the pairs that are shown."""
    sizes = [tyre.mm for one in sets for tyre in one.tyres]
    return PairScale(low=min(sizes, default=0.0), high=max(sizes, default=0.0))


@dataclass(frozen=True, kw_only=True)
class ShownRest:
    """A tyre that is in no pair, and why."""

    tyre: ShownTyre
    group: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class ShownTruing:
    """Two tyres to be cut to one size."""

    keep: ShownTyre
    grind: ShownTyre
    to_mm: float
    keep_loses_mm: float
    grind_loses_mm: float


def sets_of(
    loaded: LoadedBag,
    paired: PairedBag,
    *,
    first: int,
    last: int,
    track_mm: float | None,
) -> list[ShownSet]:
    """Give the rows of the table from one place to another."""
    members = paired.members[first:last]
    drifts: list[float] = []
    if track_mm:
        drifts = drifts_of(loaded.bag, members, track_mm=track_mm).tolist()
    shown = [
        ShownSet(
            number=number,
            tyres=[tyre_of(loaded, place) for place in row],
            difference_mm=float(paired.difference_um[number - 1]) / 1000,
            percent=100 * float(paired.probability[number - 1]),
            drift_mm=drift,
            group=group_name(paired, row[0]),
        )
        for number, (row, drift) in enumerate(
            zip_longest(members.tolist(), drifts), first + 1
        )
    ]
    scale = scale_of(shown)
    return [
        replace(one, path=scale.path_of([tyre.mm for tyre in one.tyres]))
        for one in shown
    ]


def rest_of(loaded: LoadedBag, paired: PairedBag, way: PairingWay) -> list[ShownRest]:
    """Give the tyres that found no partner."""
    reason = (
        _("too few left within the tolerance for a set")
        if way is PairingWay.SETS
        else _("no partner left within the tolerance")
    )
    rest = [(place, reason) for place in paired.leftover]
    rest += [
        (place, _("lacks a measure that was asked")) for place in paired.unmeasured
    ]
    return [
        ShownRest(
            tyre=tyre_of(loaded, place), group=group_name(paired, place), reason=reason
        )
        for place, reason in rest
    ]


def proof_of(paired: PairedBag, way: PairingWay) -> str:
    """Say how far the pairs can be from the best; nothing where they are the best."""
    if paired.more_pairs:
        return ngettext(
            "So many pairs are possible in this bag that these are not proven to be "
            "the most: at most %(n)d pair more is possible.",
            "So many pairs are possible in this bag that these are not proven to be "
            "the most: at most %(n)d pairs more are possible.",
            paired.more_pairs,
        ) % {"n": paired.more_pairs}
    if not paired.dearer_by:
        return ""
    if way is PairingWay.STAGGER:
        return _(
            "These are the most pairs there can be. All their departures from the "
            "stagger together are at most %(mm).3f mm more than the least possible."
        ) % {"mm": paired.dearer_by / 1000}
    return _(
        "These are the most pairs there can be. All their differences together are at "
        "most %(tolerances).3g weighted tolerances more than the least possible."
    ) % {"tolerances": paired.dearer_by}


def rejects_of(loaded: LoadedBag, paired: PairedBag, asked: Asked) -> list[ShownRest]:
    """Give the tyres that were set aside before pairing, each with its reasons."""
    return [
        ShownRest(
            tyre=tyre_of(loaded, place),
            group=group_name(paired, place),
            reason="; ".join(
                _reason(loaded, paired, asked, place, reason)
                for reason in paired.rejects.of(place)
            ),
        )
        for place in paired.rejected.tolist()
    ]


def truing_of(loaded: LoadedBag, plan: TruingPlan) -> list[ShownTruing]:
    """Give the plan for the rest, each pair of tyres from what to what."""
    size = loaded.bag.size_um
    return [
        ShownTruing(
            keep=tyre_of(loaded, keep),
            grind=tyre_of(loaded, grind),
            to_mm=target / 1000,
            keep_loses_mm=(int(size[keep]) - target) / 1000,
            grind_loses_mm=removal / 1000,
        )
        for keep, grind, target, removal in zip(
            plan.keep.tolist(),
            plan.grind.tolist(),
            plan.target_um.tolist(),
            plan.removal_um.tolist(),
            strict=True,
        )
    ]


def strip_of(loaded: LoadedBag, paired: PairedBag, asked: Asked) -> Strip:
    """Give the strip chart: a row a group, with its pairs as links."""
    size = loaded.bag.size_um.tolist()
    groups: dict[tuple[str, ...], StripGroup] = {}
    rows: dict[tuple[str, ...], list[int]] = {}
    for place, group in enumerate(paired.group):
        rows.setdefault(group, []).append(place)
    rejected = set(paired.rejected.tolist())
    rest = {*paired.leftover.tolist(), *paired.unmeasured.tolist()}
    pairs: dict[tuple[str, ...], list[tuple[int, int]]] = {}
    for row in paired.members.tolist():
        # The widest link of a set is about the others: first with last, and so on.
        half = len(row) // 2
        links = zip(row[:half], reversed(row[half:]), strict=False)
        pairs.setdefault(paired.group[row[0]], []).extend(links)
    for group in sorted(rows):
        places = [place for place in rows[group] if place not in rejected]
        where = {place: at for at, place in enumerate(places)}
        groups[group] = StripGroup(
            name=" · ".join(filter(None, group)),
            size_um=[size[place] for place in places],
            pairs=[(where[one], where[two]) for one, two in pairs.get(group, [])],
            leftover=[where[place] for place in places if place in rest],
            rejected_um=[size[place] for place in rows[group] if place in rejected],
        )
    return Strip(groups=list(groups.values()), tolerance_um=asked.tolerance_um)


def tyre_of(loaded: LoadedBag, place: int) -> ShownTyre:
    """Give a tyre by its position in the bag."""
    return ShownTyre(
        tag=loaded.tags[place],
        name=loaded.names[place],
        mm=float(loaded.bag.diameter_mm[place]),
        drawer=loaded.drawers[place],
    )


def group_name(paired: PairedBag, place: int) -> str:
    """Name the group of a tyre."""
    return " · ".join(filter(None, paired.group[place]))


def _beside(value: float, most: float) -> str:
    """Write a size so that it reads beyond what it is beyond."""
    places = decimals_beside(value, [most, -most], decimals=2)
    return shown_number(value, places)


def _reason(
    loaded: LoadedBag, paired: PairedBag, asked: Asked, place: int, reason: RejectReason
) -> str:
    features, limits = loaded.bag.features, asked.limits
    match reason:
        case RejectReason.OUT_OF_ROUND:
            value, most = features[Feature.OUT_OF_ROUND][place], limits.out_of_round_mm
            return _("out of round %(value)s mm, at most %(most)g") % {
                "value": _beside(value, most),
                "most": most,
            }
        case RejectReason.TAPER:
            value, most = features[Feature.TAPER][place], limits.taper_mm
            return _("taper %(value)s mm, at most %(most)g either way") % {
                "value": _beside(value, most),
                "most": most,
            }
        case RejectReason.SINGLE_READING:
            return _("%(count)d reading(s), at least %(least)d asked for") % {
                "count": loaded.bag.reading_count[place],
                "least": limits.reading_count,
            }
        case RejectReason.SLIP_OF_THE_DECIMAL:
            return _("a slip of the decimal: %(meant).2f mm perhaps") % {
                "meant": paired.rejects.suggestion_mm[place]
            }
        case RejectReason.IMPLAUSIBLE:
            return _("outside %(low)g to %(high)g mm") % {
                "low": limits.low_mm,
                "high": limits.high_mm,
            }
