"""
Possible pairs too many to hold: told when they are asked for, a block at a time.

Ints places in a sorted row, and costs.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from inventory.compute.arrays import Ints
from inventory.compute.pairing.matching.links import Links

# So many candidates are looked at together: some 100 MiB while it lasts.
BLOCK = 1_000_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Windows:
    """
    Whom each part may be linked with, as a window of those behind it.

    Attributes
    ----------
    start, stop : (n,) ndarray of int64
        Part i may be linked with start[i] … stop[i] - 1, as far as these follow i.
    weigh : callable
        Takes the two ends of candidates, sorted, and gives those that are possible.
    """

    start: Ints
    stop: Ints
    weigh: Callable[[Ints, Ints], Links]

    @property
    def count(self) -> int:
        """Parts."""
        return self.start.size

    @property
    def width(self) -> Ints:
        """Candidates of each part, behind it."""
        first = np.maximum(self.start, np.arange(self.count) + 1)
        return np.maximum(self.stop - first, 0)

    def blocks(self, size: int | None = None) -> Iterator[Links]:
        """
        Give all possible links, a block at a time.

        Parameters
        ----------
        size : int, optional
            Candidates in a block, but for the last part's; usually `BLOCK`.

        Yields
        ------
        Links
            In order of both ends; none is empty.
        """
        first = np.maximum(self.start, np.arange(self.count) + 1)
        width = self.width
        end = np.cumsum(width)
        at = 0
        while at < self.count:
            done = int(end[at] - width[at])
            to = int(np.searchsorted(end, done + (size or BLOCK), "right"))
            to = max(to, at + 1)
            some = width[at:to]
            low = np.repeat(np.arange(at, to), some)
            before = end[at:to] - some - done
            high = np.arange(low.size) + np.repeat(first[at:to] - before, some)
            links = self.weigh(low, high)
            if links.low.size:
                yield links
            at = to

    def stretches(self) -> Iterator[tuple[int, "Windows"]]:
        """
        Give the stretches of the row that no window reaches out of.

        Yields
        ------
        offset : int
            Where a stretch begins.
        stretch : Windows
            Its own places, from 0.
        """
        reach = np.maximum.accumulate(np.where(self.width > 0, self.stop, 0))
        cut = np.flatnonzero(reach[:-1] <= np.arange(1, self.count)) + 1
        edges = [0, *cut.tolist(), self.count]
        for low, high in pairwise(edges):
            yield (
                low,
                Windows(
                    start=self.start[low:high] - low,
                    stop=self.stop[low:high] - low,
                    weigh=_shifted(self.weigh, low),
                ),
            )


def _shifted(
    weigh: Callable[[Ints, Ints], Links], by: int
) -> Callable[[Ints, Ints], Links]:
    def shifted(low: Ints, high: Ints) -> Links:
        links = weigh(low + by, high + by)
        return replace(links, low=links.low - by, high=links.high - by)

    return shifted
