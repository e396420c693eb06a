"""
Pairs with a wanted difference: the larger tyre for the outer wheel.

Whole micrometres in, positions out.
"""

from collections.abc import Hashable, Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching import Links, Windows, match_windows
from inventory.compute.pairing.neighbours import (
    Matching,
    lay_end_to_end,
    pair_by_size,
    sort_pairs,
    sort_places,
)
from inventory.compute.pairing.sizes import check_limit, check_sizes


def pair_with_stagger(
    size_um: ArrayLike,
    *,
    stagger_um: int,
    tolerance_um: int,
    group: Iterable[Hashable] | None = None,
) -> Matching:
    """
    Pair at a wanted difference: most pairs, then least total departure from it.

    Exact up to three million possible pairs; of more, as in a dense bag of twenty
    thousand, it is either proven so all the same, or how far it can be from the best
    is told.

    Parameters
    ----------
    size_um : (n,) array_like of int
        Sizes, whole micrometres; positive.
    stagger_um : int
        Larger minus smaller, as wanted.
    tolerance_um : int
        How far a pair may depart from it, itself allowed.
    group : (n,) iterable, optional
        Only sizes of the same group may pair.

    Returns
    -------
    Matching
        Its ``difference_um`` is larger minus smaller, not the departure; what is
        ``dearer_by`` is.

    Raises
    ------
    NotARowError, NotANumberError, NotWholeError, NotASizeError, NoGroupError
        If the sizes or groups cannot be read; with the position.
    NotALimitError
        If the stagger or the tolerance is negative or not whole.
    TooManyLinksError
        If so many pairs are possible that trying them would take minutes.

    Examples
    --------
    >>> pairs = pair_with_stagger(
    ...     [20000, 20110, 20100, 20190], stagger_um=100, tolerance_um=20
    ... )
    >>> pairs.first, pairs.second, pairs.difference_um
    (array([1, 0]), array([3, 2]), array([ 80, 100]))
    """
    size = check_sizes(size_um)
    stagger = check_limit("stagger", stagger_um)
    tolerance = check_limit("tolerance", tolerance_um)
    if stagger == 0 or size.size == 0:
        return pair_by_size(size, tolerance_um=tolerance, group=group)
    place = lay_end_to_end(size, reach=stagger + tolerance, group=group)
    order, place = sort_places(place)
    nearest = np.searchsorted(place, place + max(stagger - tolerance, 0), "left")
    furthest = np.searchsorted(place, place + stagger + tolerance, "right")

    def weigh(low: Ints, high: Ints) -> Links:
        departure = np.abs(place[high] - place[low] - stagger)
        return Links(low=low, high=high, cost=departure)

    matched = match_windows(Windows(start=nearest, stop=furthest, weigh=weigh))
    pairs = sort_pairs(size, first=order[matched.low], second=order[matched.high])
    return replace(pairs, more_pairs=matched.more_pairs, dearer_by=matched.dearer_by)
