"""
A bag of tyres, paired the way that was asked for, and what is left of it.

Everything that the pairing page and the command show of a bag, found in one call:
who is set aside and why, who belongs together, the chance that they truly do, what
a pair would do to a car, and which of the rest to true.  Positions are those of the
bag.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from inventory.compute.errors import ComputeError
from inventory.compute.features import pair_by_features
from inventory.compute.neighbours import pair_by_size
from inventory.compute.pairing import within_probability
from inventory.compute.rejects import RejectLimits, RejectReason, Rejects, find_rejects
from inventory.compute.sets import match_sets
from inventory.compute.stagger import pair_with_stagger
from inventory.compute.steer import steer
from inventory.compute.truing import TruingPlan, plan_truing

FloatArray = NDArray[np.float64]
Whole = NDArray[np.int64]


class PairingWay(StrEnum):
    """What is asked of a bag."""

    PAIRS = "pairs"
    STAGGER = "pairs with stagger"
    FEATURES = "pairs alike in several measures"
    SETS = "sets of four"


class GroupBy(StrEnum):
    """What tyres must have in common to be paired."""

    COMPOUND = "compound"
    WIDTH_CODE = "width code"
    WHEEL = "wheel"


class Feature(StrEnum):
    """A measure besides the diameter in which a pair may be asked to agree."""

    WIDTH = "width"
    OUT_OF_ROUND = "out of round"
    TAPER = "taper"
    HARDNESS = "hardness"


class NotABagError(ComputeError):
    """The columns of a bag differ in length."""

    code: ClassVar[str] = "not_a_bag"


@dataclass(frozen=True, kw_only=True, eq=False)
class Bag:
    """
    Tyres, a column a measure; NaN where one was not taken.

    Attributes
    ----------
    diameter_mm, random_mm : (n,) ndarray of float64
        Mean diameter, and the part of its uncertainty that is this tyre's own.
    reading_count : (n,) ndarray of int64
        Readings that the diameter rests on.
    features : dict of Feature to (n,) ndarray of float64
        Further measures, each in its unit.
    words : dict of GroupBy to list of str
        What is said of each tyre.
    """

    diameter_mm: FloatArray
    random_mm: FloatArray
    reading_count: Whole
    features: dict[Feature, FloatArray]
    words: dict[GroupBy, list[str]]

    def __post_init__(self) -> None:
        count = self.diameter_mm.size
        lengths = {self.random_mm.size, self.reading_count.size}
        lengths |= {column.size for column in self.features.values()}
        lengths |= {len(column) for column in self.words.values()}
        if lengths != {count}:
            text = f"a bag of {count} tyres needs {count} in each of its columns"
            raise NotABagError(text)

    @property
    def size_um(self) -> Whole:
        """Diameters as they are compared."""
        return np.rint(self.diameter_mm * 1000).astype(np.int64)


@dataclass(frozen=True, kw_only=True)
class FeatureLimit:
    """How far a pair may differ in a measure, and how much a tolerance of it weighs."""

    tolerance: float
    weight: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Asked:
    """
    What is asked of a bag.

    Attributes
    ----------
    way : PairingWay
        Pairs, pairs with stagger, by several measures, or sets.
    tolerance_um, stagger_um : int
        Widest difference, and the difference wanted.
    group_by : tuple of GroupBy
        What those paired must have in common.
    features : dict of Feature to FeatureLimit
        Measures besides the diameter; with `PairingWay.FEATURES` alone.
    diameter_weight : float
        What a whole tolerance of the diameter weighs beside them.
    set_size : int
        Members of a set; with `PairingWay.SETS` alone.
    limits : RejectLimits
        What a tyre must keep to be paired at all.
    """

    limits: RejectLimits
    way: PairingWay = PairingWay.PAIRS
    tolerance_um: int = 50
    stagger_um: int = 0
    group_by: tuple[GroupBy, ...] = ()
    features: dict[Feature, FeatureLimit] = field(default_factory=dict)
    diameter_weight: float = 1.0
    set_size: int = 4


@dataclass(frozen=True, kw_only=True, eq=False)
class PairedBag:
    """
    A bag, paired.

    Attributes
    ----------
    members : (s, k) ndarray of int64
        Positions, a pair or set a row, the smallest first; the tightest row first.
    difference_um : (s,) ndarray of int64
        Largest minus smallest.
    probability : (s,) ndarray of float64
        Chance that the largest and the smallest truly keep what was asked.
    leftover : (m,) ndarray of int64
        Positions that might have been paired and were not, ascending.
    unmeasured : (u,) ndarray of int64
        Positions that lack a measure asked for, ascending.
    rejects : Rejects
        Who was set aside before, and why.
    group : list of tuple of str
        What each tyre of the bag has in common with those it may be paired with.
    """

    members: Whole
    difference_um: Whole
    probability: FloatArray
    leftover: Whole
    unmeasured: Whole
    rejects: Rejects
    group: list[tuple[str, ...]]

    @property
    def rejected(self) -> Whole:
        """Positions set aside, ascending."""
        return np.flatnonzero(self.rejects.reasons.any(axis=1))


def pair_bag(bag: Bag, asked: Asked) -> PairedBag:
    """
    Pair a bag the way that is asked for.

    Parameters
    ----------
    bag : Bag
        Tyres.
    asked : Asked
        Way, tolerance, groups and limits.

    Returns
    -------
    PairedBag

    Raises
    ------
    ComputeError
        What `pair_by_size` and its kin refuse.

    Examples
    --------
    >>> bag = Bag(
    ...     diameter_mm=np.array([20.01, 18.30, 20.04, 2.002]),
    ...     random_mm=np.full(4, 0.01),
    ...     reading_count=np.full(4, 3),
    ...     features={},
    ...     words={},
    ... )
    >>> found = pair_bag(bag, Asked(limits=RejectLimits(low_mm=8, high_mm=32)))
    >>> found.members, found.leftover, found.rejected
    (array([[0, 2]]), array([1]), array([3]))
    """
    rejects = find_rejects(
        bag.diameter_mm,
        out_of_round_mm=_feature(bag, Feature.OUT_OF_ROUND),
        taper_mm=_feature(bag, Feature.TAPER),
        reading_count=bag.reading_count,
        limits=asked.limits,
    )
    group = _groups(bag, asked.group_by)
    able = rejects.eligible
    missing = np.zeros(bag.diameter_mm.size, bool)
    if asked.way is PairingWay.FEATURES:
        for feature in asked.features:
            missing |= np.isnan(_feature(bag, feature))
    unmeasured = able[missing[able]]
    able = able[~missing[able]]
    members, leftover = _match(bag, asked, able, [group[place] for place in able])
    size = bag.size_um
    difference = size[members[:, -1]] - size[members[:, 0]]
    return PairedBag(
        members=members,
        difference_um=difference,
        probability=_probability(bag, asked, members, difference),
        leftover=leftover,
        unmeasured=unmeasured,
        rejects=rejects,
        group=group,
    )


def drifts_of(bag: Bag, members: Whole, *, track_mm: float) -> FloatArray:
    """
    Tell how far aside each pair rolls in a metre, towards its smaller tyre.

    Parameters
    ----------
    bag : Bag
        Tyres.
    members : (s, k) ndarray of int64
        Positions of pairs, the smallest first.
    track_mm : float
        Distance of the tyres' middles along the axle.

    Returns
    -------
    (s,) ndarray of float64
        Millimetres after a metre of path, rolling freely.

    Raises
    ------
    NotASizeError
        If the track is not positive.

    Examples
    --------
    >>> bag = Bag(
    ...     diameter_mm=np.array([12.3, 12.4]),
    ...     random_mm=np.zeros(2),
    ...     reading_count=np.ones(2, int),
    ...     features={},
    ...     words={},
    ... )
    >>> drifts_of(bag, np.array([[0, 1]]), track_mm=34.5).round(2)
    array([116.81])
    """
    small = bag.diameter_mm[members[:, 0]]
    large = bag.diameter_mm[members[:, -1]]
    return steer(small, large, track_mm).drift_mm_per_metre


def true_the_rest(
    bag: Bag,
    found: PairedBag,
    *,
    max_removal_um: int,
    floor_um: int,
    clean_up_um: int = 0,
) -> TruingPlan:
    """
    Plan the truing of what was left over, and of what was set aside for its form.

    Parameters
    ----------
    bag : Bag
        Tyres.
    found : PairedBag
        How it was paired.
    max_removal_um, floor_um, clean_up_um : int
        As for `plan_truing`.

    Returns
    -------
    TruingPlan
        Positions in the bag.

    Raises
    ------
    NotALimitError
        If a limit is negative.

    Examples
    --------
    >>> bag = Bag(
    ...     diameter_mm=np.array([20.0, 20.4]),
    ...     random_mm=np.zeros(2),
    ...     reading_count=np.ones(2, int),
    ...     features={},
    ...     words={},
    ... )
    >>> found = pair_bag(bag, Asked(limits=RejectLimits(low_mm=8, high_mm=32)))
    >>> plan = true_the_rest(bag, found, max_removal_um=500, floor_um=19000)
    >>> plan.keep, plan.grind, plan.target_um
    (array([0]), array([1]), array([20000]))
    """
    reasons = list(RejectReason)
    cured = {RejectReason.OUT_OF_ROUND, RejectReason.TAPER}
    fatal = [place for place, reason in enumerate(reasons) if reason not in cured]
    of_form = found.rejected[~found.rejects.reasons[found.rejected][:, fatal].any(1)]
    able = np.union1d(found.leftover, of_form)
    plan = plan_truing(
        bag.size_um[able],
        max_removal_um=max_removal_um,
        floor_um=floor_um,
        clean_up_um=clean_up_um,
        group=[found.group[place] for place in able],
    )
    return TruingPlan(
        keep=able[plan.keep],
        grind=able[plan.grind],
        removal_um=plan.removal_um,
        target_um=plan.target_um,
        leftover=able[plan.leftover],
    )


def _match(
    bag: Bag, asked: Asked, able: Whole, group: list[tuple[str, ...]]
) -> tuple[Whole, Whole]:
    size = bag.size_um[able]
    tolerance = asked.tolerance_um
    if asked.way is PairingWay.SETS:
        sets = match_sets(
            size, set_size=asked.set_size, tolerance_um=tolerance, group=group
        )
        return able[sets.members], able[sets.leftover]
    if asked.way is PairingWay.FEATURES:
        further = asked.features.values()
        found = pair_by_features(
            _table(bag, asked, able),
            tolerances=[tolerance / 1000, *(limit.tolerance for limit in further)],
            weights=[asked.diameter_weight, *(limit.weight for limit in further)],
            group=group,
        )
        return able[np.stack([found.first, found.second], 1)], able[found.leftover]
    if asked.way is PairingWay.STAGGER:
        pairs = pair_with_stagger(
            size, stagger_um=asked.stagger_um, tolerance_um=tolerance, group=group
        )
    else:
        pairs = pair_by_size(size, tolerance_um=tolerance, group=group)
    return able[np.stack([pairs.first, pairs.second], 1)], able[pairs.leftover]


def _table(bag: Bag, asked: Asked, able: Whole) -> FloatArray:
    columns = [_feature(bag, feature)[able] for feature in asked.features]
    # Compared in whole micrometres here as well: 20.05 and 20.00 are 0.05 apart.
    return np.stack([bag.size_um[able] / 1000, *columns], axis=1)


def _probability(
    bag: Bag, asked: Asked, members: Whole, difference: Whole
) -> FloatArray:
    wanted = asked.stagger_um if asked.way is PairingWay.STAGGER else 0
    random = np.hypot(bag.random_mm[members[:, 0]], bag.random_mm[members[:, -1]])
    chance = within_probability(
        (difference - wanted) / 1000, random, tolerance_mm=asked.tolerance_um / 1000
    )
    return np.asarray(chance, dtype=np.float64)


def _feature(bag: Bag, feature: Feature) -> FloatArray:
    nothing = np.full(bag.diameter_mm.size, np.nan)
    return bag.features.get(feature, nothing)


def _groups(bag: Bag, group_by: tuple[GroupBy, ...]) -> list[tuple[str, ...]]:
    columns = [
        _spelled_alike(bag.words[each]) for each in group_by if each in bag.words
    ]
    if not columns:
        return [()] * bag.diameter_mm.size
    return list(zip(*columns, strict=True))


def _spelled_alike(words: list[str]) -> list[str]:
    """Write a word as it was written first: Soft and soft are one compound."""
    first: dict[str, str] = {}
    return [first.setdefault(word.strip().casefold(), word.strip()) for word in words]
