"""Which tyres of a paired bag to true: the rest, and those set aside for their form."""

import numpy as np

from inventory.compute.arrays import Ints
from inventory.compute.pairing.bag import (
    Bag,
    Feature,
    PairedBag,
)
from inventory.compute.pairing.rejects import RejectReason
from inventory.compute.pairing.truing import TruingPlan, plan_truing


def true_the_rest(
    bag: Bag,
    paired: PairedBag,
    *,
    max_removal_um: int,
    floor_um: int,
    clean_up_um: int = 0,
) -> TruingPlan:
    """
    Plan the truing of what was left over, and of what was set aside for its form.

    A tyre runs true only below its smallest section: of two lobes its mean less
    half of out of round, of a cone its smaller edge too (common practice, no
    source).

    Parameters
    ----------
    bag : Bag
        Tyres.
    paired : PairedBag
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
    >>> from inventory.compute.pairing import Asked, RejectLimits, pair_bag
    >>> bag = Bag(
    ...     diameter_mm=np.array([20.0, 20.4]),
    ...     random_mm=np.zeros(2),
    ...     reading_count=np.ones(2, int),
    ...     features={},
    ...     words={},
    ... )
    >>> paired = pair_bag(bag, Asked(limits=RejectLimits(low_mm=8, high_mm=32)))
    >>> plan = true_the_rest(bag, paired, max_removal_um=500, floor_um=19000)
    >>> plan.keep, plan.grind, plan.target_um
    (array([0]), array([1]), array([20000]))
    """
    reasons = list(RejectReason)
    cured = {RejectReason.OUT_OF_ROUND, RejectReason.TAPER}
    fatal = [place for place, reason in enumerate(reasons) if reason not in cured]
    of_form = paired.rejected[~paired.rejects.reasons[paired.rejected][:, fatal].any(1)]
    able = np.union1d(paired.leftover, of_form)
    plan = plan_truing(
        bag.size_um[able],
        smallest_um=_smallest_um(bag)[able],
        max_removal_um=max_removal_um,
        floor_um=floor_um,
        clean_up_um=clean_up_um,
        group=[paired.group[place] for place in able],
    )
    return TruingPlan(
        keep=able[plan.keep],
        grind=able[plan.grind],
        removal_um=plan.removal_um,
        target_um=plan.target_um,
        leftover=able[plan.leftover],
    )


def _smallest_um(bag: Bag) -> Ints:
    """Smallest section of each tyre; its mean where its form was not taken."""
    nothing = np.zeros(bag.diameter_mm.size)
    lost = [
        np.nan_to_num(np.abs(bag.features.get(feature, nothing))) / 2
        for feature in (Feature.OUT_OF_ROUND, Feature.TAPER)
    ]
    # Rounded first: 18.6 - 0.1 is a little less than 18.5, and no micrometre less.
    below = np.floor(np.round((bag.diameter_mm - sum(lost)) * 1000, 3))
    least: Ints = np.minimum(np.maximum(below, 1), bag.size_um).astype(np.int64)
    return least
