"""
Links between parts that may pair: who with whom, and at what cost.

Ints costs, so that two totals are equal or they are not.
"""

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from inventory.compute.arrays import Ints
from inventory.compute.errors import ComputeError

# All of 2,400 parts with each other; the computing holds some 220 bytes a link.
MOST_LINKS = 3_000_000


class TooManyLinksError(ComputeError):
    """So many pairs are possible that finding the best would fill the memory."""

    code: ClassVar[str] = "too_many_links"

    def __init__(self, total: int) -> None:
        super().__init__(f"{total} pairs are possible")
        self.total = total


@dataclass(frozen=True, kw_only=True, eq=False)
class Links:
    """
    Possible pairs, sorted by ``low``, then ``high``, each once.

    Attributes
    ----------
    low, high : (e,) ndarray of int64
        The two parts, ``low < high``.
    cost : (e,) ndarray of int64
        What the pair costs, not negative.
    """

    low: Ints
    high: Ints
    cost: Ints

    def take(self, which: NDArray[np.bool_] | Ints) -> "Links":
        """
        Keep some of the links, in order.

        Parameters
        ----------
        which : ndarray
            A mask, or ascending positions.

        Returns
        -------
        Links
        """
        return Links(low=self.low[which], high=self.high[which], cost=self.cost[which])


def link_windows(start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """
    Link each part with a window of those after it.

    Parameters
    ----------
    start, stop : (n,) ndarray of int64
        Part i is linked with start[i] … stop[i] - 1, as far as these follow i.

    Returns
    -------
    low, high : (e,) ndarray of int64

    Raises
    ------
    TooManyLinksError
        If there are more than the memory should hold.

    Examples
    --------
    >>> link_windows(np.array([0, 2, 2]), np.array([3, 3, 3]))
    (array([0, 0, 1]), array([1, 2, 2]))
    """
    part = np.arange(start.size)
    start = np.maximum(start, part + 1)
    width = np.maximum(stop - start, 0)
    if (total := int(width.sum())) > MOST_LINKS:
        raise TooManyLinksError(total)
    low = np.repeat(part, width)
    first = np.cumsum(width) - width
    return low, np.arange(total) + np.repeat(start - first, width)
