"""What the pairing page shows of a bag: rows for its tables, and its strip chart."""

import hashlib
from dataclasses import dataclass
from itertools import zip_longest

from django.utils.translation import gettext as _

from inventory.compute.bag import Asked, Feature, PairedBag, PairingWay, drifts_of
from inventory.compute.rejects import RejectReason
from inventory.compute.truing import TruingPlan
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
    found: PairedBag,
    *,
    first: int,
    last: int,
    track_mm: float | None,
) -> list[ShownSet]:
    """Give the rows of the table from one place to another."""
    members = found.members[first:last]
    drifts: list[float] = []
    if track_mm:
        drifts = drifts_of(loaded.bag, members, track_mm=track_mm).tolist()
    return [
        ShownSet(
            number=number,
            tyres=[tyre_of(loaded, place) for place in row],
            difference_mm=float(found.difference_um[number - 1]) / 1000,
            percent=100 * float(found.probability[number - 1]),
            drift_mm=drift,
            group=group_name(found, row[0]),
        )
        for number, (row, drift) in enumerate(
            zip_longest(members.tolist(), drifts), first + 1
        )
    ]


def rest_of(loaded: LoadedBag, found: PairedBag, way: PairingWay) -> list[ShownRest]:
    """Give the tyres that found no partner."""
    reason = (
        _("too few left within the tolerance for a set")
        if way is PairingWay.SETS
        else _("no partner left within the tolerance")
    )
    rest = [(place, reason) for place in found.leftover]
    rest += [(place, _("lacks a measure that was asked")) for place in found.unmeasured]
    return [
        ShownRest(
            tyre=tyre_of(loaded, place), group=group_name(found, place), reason=reason
        )
        for place, reason in rest
    ]


def rejects_of(loaded: LoadedBag, found: PairedBag, asked: Asked) -> list[ShownRest]:
    """Give the tyres that were set aside before pairing, each with its reasons."""
    return [
        ShownRest(
            tyre=tyre_of(loaded, place),
            group=group_name(found, place),
            reason="; ".join(
                _reason(loaded, found, asked, place, reason)
                for reason in found.rejects.of(place)
            ),
        )
        for place in found.rejected.tolist()
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


def strip_of(loaded: LoadedBag, found: PairedBag, asked: Asked) -> Strip:
    """Give the strip chart: a row a group, with its pairs as links."""
    size = loaded.bag.size_um.tolist()
    groups: dict[tuple[str, ...], StripGroup] = {}
    rows: dict[tuple[str, ...], list[int]] = {}
    for place, group in enumerate(found.group):
        rows.setdefault(group, []).append(place)
    rejected = set(found.rejected.tolist())
    rest = {*found.leftover.tolist(), *found.unmeasured.tolist()}
    pairs: dict[tuple[str, ...], list[tuple[int, int]]] = {}
    for row in found.members.tolist():
        # The widest link of a set is about the others: first with last, and so on.
        half = len(row) // 2
        links = zip(row[:half], reversed(row[half:]), strict=False)
        pairs.setdefault(found.group[row[0]], []).extend(links)
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


def seen_as(loaded: LoadedBag, found: PairedBag) -> str:
    """Hash which parts stand in which pair, so that what was looked at is confirmed."""
    rows = [[loaded.part_ids[place] for place in row] for row in found.members.tolist()]
    return hashlib.sha256(repr(rows).encode()).hexdigest()


def tyre_of(loaded: LoadedBag, place: int) -> ShownTyre:
    """Give a tyre by its position in the bag."""
    return ShownTyre(
        tag=loaded.tags[place],
        name=loaded.names[place],
        mm=float(loaded.bag.diameter_mm[place]),
        drawer=loaded.drawers[place],
    )


def group_name(found: PairedBag, place: int) -> str:
    """Name the group of a tyre."""
    return " · ".join(filter(None, found.group[place]))


def _reason(
    loaded: LoadedBag, found: PairedBag, asked: Asked, place: int, reason: RejectReason
) -> str:
    features, limits = loaded.bag.features, asked.limits
    match reason:
        case RejectReason.OUT_OF_ROUND:
            value, most = features[Feature.OUT_OF_ROUND][place], limits.out_of_round_mm
            return _("out of round %(value).2f mm, at most %(most)g") % {
                "value": value,
                "most": most,
            }
        case RejectReason.TAPER:
            value, most = features[Feature.TAPER][place], limits.taper_mm
            return _("taper %(value).2f mm, at most %(most)g either way") % {
                "value": value,
                "most": most,
            }
        case RejectReason.SINGLE_READING:
            return _("%(count)d reading(s), at least %(least)d asked for") % {
                "count": loaded.bag.reading_count[place],
                "least": limits.reading_count,
            }
        case RejectReason.SLIP_OF_THE_DECIMAL:
            return _("a slip of the decimal: %(meant).2f mm perhaps") % {
                "meant": found.rejects.suggestion_mm[place]
            }
        case RejectReason.IMPLAUSIBLE:
            return _("outside %(low)g to %(high)g mm") % {
                "low": limits.low_mm,
                "high": limits.high_mm,
            }
