"""
A bag of tyres, paired the way that was asked for, and what is left of it.

Everything that the pairing page and the command show of a bag, found in one call:
who is set aside and why, who belongs together, the chance that they truly do, and
what a pair would do to a car.  Positions are those of the bag.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar

import numpy as np

from inventory.compute.arrays import Floats, Ints
from inventory.compute.errors import ComputeError
from inventory.compute.pairing.chances import range_probability, within_probability
from inventory.compute.pairing.features import FeatureMatching, pair_by_features
from inventory.compute.pairing.neighbours import Matching, pair_by_size
from inventory.compute.pairing.rejects import (
    RejectLimits,
    Rejects,
    find_rejects,
)
from inventory.compute.pairing.sets import match_sets
from inventory.compute.pairing.stagger import pair_with_stagger
from inventory.compute.pairing.steering import steer


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


class NotSaidOfTheBagError(ComputeError):
    """No tyre of the bag says what those paired are to have in common."""

    code: ClassVar[str] = "not_said_of_the_bag"

    def __init__(self, each: GroupBy) -> None:
        super().__init__(f"no tyre of this bag says its {each}")
        self.each = each


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

    diameter_mm: Floats
    random_mm: Floats
    reading_count: Ints
    features: dict[Feature, Floats]
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
    def size_um(self) -> Ints:
        """Diameters as they are compared."""
        return np.rint(self.diameter_mm * 1000).astype(np.int64)

    def says(self, group: GroupBy) -> bool:
        """Tell whether any tyre says its word, so that like can be kept with like."""
        return any(word.strip() for word in self.words.get(group, ()))


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
        Chance that a pair or a whole set truly keeps what was asked of its diameters.
    leftover : (m,) ndarray of int64
        Positions that might have been paired and were not, ascending.
    unmeasured : (u,) ndarray of int64
        Positions that lack a measure asked for, ascending.
    rejects : Rejects
        Who was set aside before, and why.
    group : list of tuple of str
        What each tyre of the bag has in common with those it may be paired with.
    more_pairs : int
        No choice has more than so many pairs more: 0 if these are proven the most.
    dearer_by : float
        Of as many pairs no choice is better in all by more than this: 0 if these are
        proven the best.  With stagger, micrometres of departure; of several measures,
        weighted tolerances.
    """

    members: Ints
    difference_um: Ints
    probability: Floats
    leftover: Ints
    unmeasured: Ints
    rejects: Rejects
    group: list[tuple[str, ...]]
    more_pairs: int = 0
    dearer_by: float = 0.0

    @property
    def rejected(self) -> Ints:
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
    NotSaidOfTheBagError
        If like is to stay with like in a word that no tyre says.
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
    >>> paired = pair_bag(bag, Asked(limits=RejectLimits(low_mm=8, high_mm=32)))
    >>> paired.members, paired.leftover, paired.rejected
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
    matched = _match(bag, asked, able, [group[place] for place in able])
    members = matched.members
    size = bag.size_um
    difference = size[members[:, -1]] - size[members[:, 0]]
    return PairedBag(
        members=members,
        difference_um=difference,
        probability=_probability(bag, asked, members, difference),
        leftover=matched.leftover,
        unmeasured=unmeasured,
        rejects=rejects,
        group=group,
        more_pairs=matched.more_pairs,
        dearer_by=matched.dearer_by,
    )


def drifts_of(bag: Bag, members: Ints, *, track_mm: float) -> Floats:
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


@dataclass(frozen=True, kw_only=True, eq=False)
class _Matched:
    members: Ints
    leftover: Ints
    more_pairs: int = 0
    dearer_by: float = 0.0

    @classmethod
    def of(cls, pairs: Matching | FeatureMatching, able: Ints) -> "_Matched":
        return cls(
            members=able[np.stack([pairs.first, pairs.second], 1)],
            leftover=able[pairs.leftover],
            more_pairs=pairs.more_pairs,
            dearer_by=pairs.dearer_by,
        )


def _match(
    bag: Bag, asked: Asked, able: Ints, group: list[tuple[str, ...]]
) -> _Matched:
    size = bag.size_um[able]
    tolerance = asked.tolerance_um
    if asked.way is PairingWay.SETS:
        sets = match_sets(
            size, set_size=asked.set_size, tolerance_um=tolerance, group=group
        )
        return _Matched(members=able[sets.members], leftover=able[sets.leftover])
    if asked.way is PairingWay.FEATURES:
        further = asked.features.values()
        matched = pair_by_features(
            _table(bag, asked, able),
            tolerances=[tolerance / 1000, *(limit.tolerance for limit in further)],
            weights=[asked.diameter_weight, *(limit.weight for limit in further)],
            group=group,
        )
        return _Matched.of(matched, able)
    if asked.way is PairingWay.STAGGER:
        pairs = pair_with_stagger(
            size, stagger_um=asked.stagger_um, tolerance_um=tolerance, group=group
        )
    else:
        pairs = pair_by_size(size, tolerance_um=tolerance, group=group)
    return _Matched.of(pairs, able)


def _table(bag: Bag, asked: Asked, able: Ints) -> Floats:
    columns = [_feature(bag, feature)[able] for feature in asked.features]
    # Compared in whole micrometres here as well: 20.05 and 20.00 are 0.05 apart.
    return np.stack([bag.size_um[able] / 1000, *columns], axis=1)


def _probability(bag: Bag, asked: Asked, members: Ints, difference: Ints) -> Floats:
    tolerance = asked.tolerance_um / 1000
    if asked.way is PairingWay.SETS:
        return range_probability(
            bag.size_um[members] / 1000, bag.random_mm[members], tolerance_mm=tolerance
        )
    wanted = asked.stagger_um if asked.way is PairingWay.STAGGER else 0
    random = np.hypot(bag.random_mm[members[:, 0]], bag.random_mm[members[:, -1]])
    chance = within_probability(
        (difference - wanted) / 1000, random, tolerance_mm=tolerance
    )
    return np.asarray(chance, dtype=np.float64)


def _feature(bag: Bag, feature: Feature) -> Floats:
    nothing = np.full(bag.diameter_mm.size, np.nan)
    return bag.features.get(feature, nothing)


def _groups(bag: Bag, group_by: tuple[GroupBy, ...]) -> list[tuple[str, ...]]:
    if not group_by or not bag.diameter_mm.size:
        return [()] * bag.diameter_mm.size
    for each in group_by:
        if not bag.says(each):
            raise NotSaidOfTheBagError(each)
    columns = [_spelled_alike(bag.words[each]) for each in group_by]
    return list(zip(*columns, strict=True))


def _spelled_alike(words: list[str]) -> list[str]:
    """Write a word as it was written first: Soft and soft are one compound."""
    first: dict[str, str] = {}
    return [first.setdefault(word.strip().casefold(), word.strip()) for word in words]
