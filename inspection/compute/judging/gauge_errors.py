"""
Errors of gauges as they reach what was worked out from their readings.

Two errors of one gauge are the more alike the nearer the lengths are: their
correlation is exp(-|difference|) of the lengths over the length scale of the gauge's
mode (Rasmussen and Williams, Gaussian Processes for Machine Learning, 4.2.1).
Readings off different gauges have nothing in common.
"""

from typing import TypeAlias

import numpy as np

from inventory.compute.arrays import Bools, Floats, Ints

#: An input, the later ones that share a gauge with it on any car, and on which cars
#: they do, ``(later, cars)``; None where on all.
Sharing: TypeAlias = tuple[int, Ints, Bools | None]


def weighed(slope: Floats, uncertainty: Floats) -> Floats:
    """
    Multiply slopes by uncertainties: what an input's error adds to an output.

    Parameters
    ----------
    slope, uncertainty : ndarray
        Of shapes that go together.

    Returns
    -------
    ndarray
        As ``slope``; 0 where that is 0: an input not measured is NaN and not used.

    Examples
    --------
    >>> weighed(np.array([2.0, 0.0]), np.array([0.01, np.nan]))
    array([0.02, 0.  ])
    """
    product = np.zeros(slope.shape)
    where = True if np.isfinite(uncertainty).all() else slope != 0
    return np.multiply(slope, uncertainty, out=product, where=where)


def sharing(gauge: Ints) -> list[Sharing]:
    """
    Say which inputs share a gauge with which later ones.

    Cars that were read alike, each off its own gauges, have one pattern, and need no
    mask.

    Parameters
    ----------
    gauge : (inputs, cars) ndarray of int
        Inputs off one gauge share a number.

    Returns
    -------
    list of Sharing
        In the order of the inputs, those that share any.

    Examples
    --------
    Two cars, the first and the last input of each off one gauge of its own.

    >>> sharing(np.array([[1, 5], [2, 6], [1, 5]]))
    [(0, array([2]), None)]
    """
    if not gauge.size:
        return []
    alike = gauge[:, :1] == gauge[:, 0]
    same = None if _is_one_pattern(gauge, alike) else gauge[:, None] == gauge[None, :]
    on_any = alike if same is None else same.any(axis=2)
    pairs_sharing: list[Sharing] = []
    for first in range(len(gauge) - 1):
        later = first + 1 + np.flatnonzero(on_any[first, first + 1 :])
        if later.size:
            pairs_sharing.append(
                (first, later, None if same is None else same[first, later])
            )
    return pairs_sharing


def _is_one_pattern(gauge: Ints, alike: Bools) -> bool:
    """Tell whether the inputs of every car share gauges as those of the first do."""
    leader = alike.argmax(axis=1)
    if not (gauge == gauge[leader]).all():
        return False
    heads = gauge[np.unique(leader)]
    pairs = np.count_nonzero(heads[:, None] == heads[None, :])
    return bool(pairs == heads.size)


def spread_variance(
    part: Floats, place: Floats, shared: list[Sharing], cars: slice
) -> Floats:
    """
    Sum squares, and products of two errors of one gauge by their likeness.

    Parameters
    ----------
    part : (inputs, outputs, cars) ndarray
        What the error of each input's gauge adds to each output.
    place : (inputs, cars) ndarray
        Where along the gauge each input lies, over its length scale.
    shared : list of Sharing
        Which inputs share a gauge, of a field of cars.
    cars : slice
        Which of that field these cars are.

    Returns
    -------
    (outputs, cars) ndarray
        Variance.

    Examples
    --------
    A difference of two readings off one gauge at one length has no error of it.

    >>> part, place = np.array([[[0.01]], [[-0.01]]]), np.zeros((2, 1))
    >>> shared = sharing(np.array([[0], [0]]))
    >>> spread_variance(part, place, shared, slice(None))
    array([[0.]])
    """
    variance: Floats = (part**2).sum(axis=0)
    for first, later, where in shared:
        likeness = np.exp(-np.abs(place[later] - place[first]))
        if where is not None:
            likeness *= where[:, cars]
        across = (likeness[:, None] * part[later]).sum(axis=0)
        variance += 2.0 * part[first] * across
    # Errors that cancel leave the last digit, on either side of nothing.
    return np.maximum(variance, 0.0)


def covariance(
    slopes: Floats,
    *,
    random: Floats,
    systematic: Floats,
    gauge: Ints,
    places: Floats,
) -> Floats:
    """
    Give the covariance of outputs (JCGM 100:2008, 5.2.2).

    Parameters
    ----------
    slopes : (cars, inputs, outputs) ndarray
        Slope of each output in each input.
    random, systematic : (cars, inputs) ndarray
        Standard uncertainties, in the units of the inputs.
    gauge : (cars, inputs) ndarray of int
        Inputs off one gauge share a number; below 0, none is shared.
    places : (cars, inputs) ndarray
        Where along the gauge each input lies, over its length scale.

    Returns
    -------
    (cars, outputs, outputs) ndarray
        Covariance.

    Examples
    --------
    A sum and a difference of two readings, each with an error of its own.

    >>> alone = np.full((1, 2), -1)
    >>> covariance(
    ...     np.array([[[1.0, 1.0], [1.0, -1.0]]]),
    ...     random=np.array([[0.3, 0.4]]),
    ...     systematic=np.zeros((1, 2)),
    ...     gauge=alone,
    ...     places=np.zeros((1, 2)),
    ... ).round(2)
    array([[[ 0.25, -0.07],
            [-0.07,  0.25]]])
    """
    noise = weighed(slopes, np.broadcast_to(random[:, :, None], slopes.shape))
    offset = weighed(slopes, np.broadcast_to(systematic[:, :, None], slopes.shape))
    inputs = np.arange(gauge.shape[1])
    label = np.where(gauge < 0, -1 - inputs, gauge)
    place = np.nan_to_num(places)
    shared = label[:, :, None] == label[:, None, :]
    likeness = np.exp(-np.abs(place[:, :, None] - place[:, None, :])) * shared
    across = offset.transpose(0, 2, 1)
    matrix: Floats = across @ likeness @ offset + noise.transpose(0, 2, 1) @ noise
    return matrix
