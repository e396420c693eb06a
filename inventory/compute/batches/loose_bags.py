"""Rows of a table as a bag to pair, without any stock behind it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from inventory.compute.batches.estimates import BatchEstimate
from inventory.compute.batches.rows import BatchRow
from inventory.compute.numbers import from_millionths
from inventory.compute.pairing import Bag, Feature, GroupBy
from inventory.compute.stock import PartQuantity

_FEATURES = {
    PartQuantity.TYRE_WIDTH: Feature.WIDTH,
    PartQuantity.OUT_OF_ROUND: Feature.OUT_OF_ROUND,
    PartQuantity.TAPER: Feature.TAPER,
    PartQuantity.TYRE_HARDNESS: Feature.HARDNESS,
}
_WORDS = {
    GroupBy.COMPOUND: "compound",
    GroupBy.WIDTH_CODE: "width_code",
    GroupBy.WHEEL: "wheel",
}


def bag_of_rows(rows: Sequence[BatchRow], estimates: Sequence[BatchEstimate]) -> Bag:
    """
    Put the tyres of a table into a bag.

    Parameters
    ----------
    rows : sequence of BatchRow
        Tyres, each with a diameter.
    estimates : sequence of BatchEstimate
        What their readings say, by position of the row.

    Returns
    -------
    Bag
        In the order of the rows.

    Examples
    --------
    >>> row = BatchRow(number=1, tag="A", readings=())
    >>> row_estimate = BatchEstimate(
    ...     row=0,
    ...     quantity=PartQuantity.TYRE_DIAMETER,
    ...     value=18_420_000,
    ...     random=20_000,
    ...     systematic=0,
    ...     count=3,
    ... )
    >>> bag_of_rows([row], [row_estimate]).diameter_mm
    array([18.42])
    """
    diameter, random = np.full((2, len(rows)), np.nan)
    count = np.zeros(len(rows), dtype=np.int64)
    features: dict[Feature, NDArray[np.float64]] = {
        feature: np.full(len(rows), np.nan) for feature in _FEATURES.values()
    }
    for one in estimates:
        if one.quantity is PartQuantity.TYRE_DIAMETER:
            diameter[one.row] = from_millionths(one.value)
            random[one.row] = from_millionths(one.random)
            count[one.row] = one.count
        elif one.quantity in _FEATURES:
            features[_FEATURES[one.quantity]][one.row] = from_millionths(one.value)
    return Bag(
        diameter_mm=diameter,
        random_mm=random,
        reading_count=count,
        features=features,
        words={
            group: [row.words.get(word, "") for row in rows]
            for group, word in _WORDS.items()
        },
    )
