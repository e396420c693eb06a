"""
How a car stands on its contacts, and what that makes of its clearances.

Millimetres and degrees; arrays with the cars first.  The car's own frame: origin
on the datum plane, the chassis' flat underside, below the middle of the rear
axle; x forward, y to the car's left, z up.  Chassis and tyres are taken as rigid:
a hinged pan or a floating pod stands otherwise than computed here.
"""

from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations
from typing import ClassVar, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Bools, Codes, Floats
from inventory.compute.errors import ComputeError

IntArray: TypeAlias = NDArray[np.intp]

# On an edge, and on the plane, counts: this far beyond, mm, is rounding.
_TOUCH_MM = 1e-9


class MisshapenContactsError(ComputeError):
    """Contacts, centres of gravity or points are not arrays about the same cars."""

    code: ClassVar[str] = "misshapen_contacts"


class NotStandingError(ComputeError):
    """A car stands on no three of its contacts."""

    code: ClassVar[str] = "not_standing"


class TooFewContactsError(NotStandingError):
    """Fewer than three contacts are known."""

    code: ClassVar[str] = "too_few_contacts"


class ContactsInLineError(NotStandingError):
    """The contacts lie in one line, seen from above."""

    code: ClassVar[str] = "contacts_in_line"


class NoCentreOfGravityError(NotStandingError):
    """The centre of gravity is not known."""

    code: ClassVar[str] = "no_centre_of_gravity"


class OverbalancedError(NotStandingError):
    """The centre of gravity is above no triangle that the car could stand on."""

    code: ClassVar[str] = "overbalanced"


class Footing(StrEnum):
    """Whether a car stands, and if not, why."""

    STANDS = "stands"
    TOO_FEW_CONTACTS = "too few contacts"
    CONTACTS_IN_LINE = "contacts in line"
    NO_CENTRE_OF_GRAVITY = "no centre of gravity"
    OVERBALANCED = "overbalanced"

    @property
    def code(self) -> int:
        """The number that stands for the footing in an array."""
        return tuple(Footing).index(self)


_REFUSALS: dict[int, tuple[type[NotStandingError], str]] = {
    Footing.TOO_FEW_CONTACTS.code: (
        TooFewContactsError,
        "A car stands on three contacts at least.",
    ),
    Footing.CONTACTS_IN_LINE.code: (
        ContactsInLineError,
        "The contacts lie in one line: nothing keeps the car from tipping.",
    ),
    Footing.NO_CENTRE_OF_GRAVITY.code: (
        NoCentreOfGravityError,
        "Where a car stands depends on its centre of gravity.",
    ),
    Footing.OVERBALANCED.code: (
        OverbalancedError,
        "The centre of gravity lies outside the contacts: the car tips over.",
    ),
}


@dataclass(frozen=True, kw_only=True)
class Stance:
    """
    How cars stand.

    ``plane`` is ``(cars, 3)``: the ground is z = a·x + b·y + c in the car's frame,
    NaN if the car does not stand.  ``support`` is ``(cars, 3)``: positions of the
    three contacts it stands on, -1 if none.  ``lift_mm`` is ``(cars,)``: how far the
    highest of the other contacts is off the ground, along z.  ``reason`` is
    ``(cars,)``: int8 codes of `Footing`.
    """

    plane: Floats
    support: IntArray
    lift_mm: Floats
    reason: Codes


def rest(contacts_mm: ArrayLike, centre_of_gravity_mm: ArrayLike) -> Stance:
    """
    Find the three contacts that each car stands on.

    They are three whose plane has every other contact on or above it, and whose
    triangle has the centre of gravity inside or on an edge; of several such triples,
    the first in the order of the contacts.  With the rear wheels given first, that is
    the one with both of them.

    Parameters
    ----------
    contacts_mm : (cars, k, 3) array_like
        Three contacts or more, NaN if absent; in the order rear left, rear right,
        front left, front right, or rear left, rear right, guide.
    centre_of_gravity_mm : (cars, 2) array_like
        Where the car's weight acts, seen from above.

    Returns
    -------
    Stance
        Of several cars, one that cannot stand has a row of NaN, and the reason.

    Raises
    ------
    MisshapenContactsError
        If the arrays do not describe the same cars.
    NotStandingError
        If there is one car, and it cannot stand: `TooFewContactsError`,
        `ContactsInLineError`, `NoCentreOfGravityError` or `OverbalancedError`.

    Examples
    --------
    The front right tyre is 0.2 smaller in diameter, and hangs by half of it.

    >>> wheels = [[0, 30, -1.7], [0, -30, -1.7], [95, 28, -1.5], [95, -28, -1.4]]
    >>> stance = rest([wheels], [[38, 0]])
    >>> stance.support, stance.lift_mm.round(3)
    (array([[0, 1, 2]]), array([0.1]))
    """
    contacts = _contacts(contacts_mm)
    cars, count = contacts.shape[:2]
    gravity = np.asarray(centre_of_gravity_mm, dtype=np.float64)
    _need(gravity.shape == (cars, 2), "One centre of gravity a car is needed.")

    triples = np.array(list(combinations(range(count), 3)), dtype=np.intp)
    corners = contacts[:, triples]
    planes = _planes(corners)
    level = ~np.isnan(planes[..., 0])
    heights = _heights(planes[:, :, None], contacts[:, None])
    # An absent contact has no height, and keeps no plane from being the ground.
    above = ~(heights < -_TOUCH_MM).any(axis=-1)
    holds = level & above & _inside(corners[..., :2], gravity[:, None])

    stands = np.asarray(holds.any(axis=1))
    support = np.where(stands[:, None], triples[holds.argmax(axis=1)], -1)
    present = (~np.isnan(contacts).any(axis=2)).sum(axis=1)
    # In the order of the footings, the first that holds.
    reason = np.select(
        [stands, present < 3, ~level.any(axis=1), np.isnan(gravity).any(axis=1)],
        [footing.code for footing in tuple(Footing)[:4]],
        Footing.OVERBALANCED.code,
    ).astype(np.int8)
    if cars == 1 and not stands[0]:
        refusal, message = _REFUSALS[int(reason[0])]
        raise refusal(message)
    return _stance(contacts, support, reason)


def rest_as_before(stance: Stance, contacts_mm: ArrayLike) -> Stance:
    """
    Put cars with other contacts on the same three, whether or not they would stand.

    A small step of an input must not change the support: so is a clearance's slope
    taken.

    Parameters
    ----------
    stance : Stance
        How the cars stood.
    contacts_mm : (cars, k, 3) array_like
        The contacts now, in the same order.

    Returns
    -------
    Stance
        On the support of the given stance.

    Raises
    ------
    MisshapenContactsError
        If the arrays do not describe the same cars.

    Examples
    --------
    >>> wheels = np.array([[[0, 30, -1.7], [0, -30, -1.7], [95, 28, -1.5]]])
    >>> before = rest(wheels, [[38, 0]])
    >>> rest_as_before(before, wheels + [0, 0, 0.1]).plane[:, 2].round(4)
    array([-1.6])
    """
    contacts = _contacts(contacts_mm)
    _need(len(contacts) == len(stance.support), "One stance a car is needed.")
    return _stance(contacts, stance.support, stance.reason)


def clearance_mm(stance: Stance, points_mm: ArrayLike) -> Floats:
    """
    Measure how far points of a car are above the ground, square to it.

    Parameters
    ----------
    stance : Stance
        How the cars stand.
    points_mm : (cars, points, 3) array_like
        Points of the underside.

    Returns
    -------
    (cars, points) ndarray
        Clearance, mm; negative below the ground.

    Raises
    ------
    MisshapenContactsError
        If the arrays do not describe the same cars.

    Examples
    --------
    >>> wheels = [[0, 30, -1.7], [0, -30, -1.7], [95, 28, -1.5], [95, -28, -1.5]]
    >>> clearance_mm(rest([wheels], [[38, 0]]), [[[0, 0, 0], [95, 0, 0]]]).round(4)
    array([[1.7, 1.5]])
    """
    points = np.asarray(points_mm, dtype=np.float64)
    _need(
        points.ndim == 3 and points.shape[::2] == stance.plane.shape,
        "Points are an array of cars by points by x, y and z.",
    )
    plane = stance.plane[:, None]
    slope = np.hypot(plane[..., 0], plane[..., 1])
    distance: Floats = _heights(plane, points) / np.hypot(1.0, slope)
    return distance


def rake_deg(stance: Stance) -> Floats:
    """
    Angle of the chassis to the ground along the car, nose down positive.

    Parameters
    ----------
    stance : Stance
        Of the cars.

    Returns
    -------
    (cars,) ndarray
        Degrees: the arc tangent of the plane's slope along the car.

    Examples
    --------
    >>> wheels = [[0, 30, -1.7], [0, -30, -1.7], [95, 28, -1.5], [95, -28, -1.5]]
    >>> rake_deg(rest([wheels], [[38, 0]])).round(4)
    array([0.1206])
    """
    return np.degrees(np.arctan(stance.plane[:, 0]))


def tilt_deg(stance: Stance) -> Floats:
    """
    Angle of the chassis to the ground across the car, left side high positive.

    Parameters
    ----------
    stance : Stance
        Of the cars.

    Returns
    -------
    (cars,) ndarray
        Degrees: the arc tangent of the plane's slope across the car.

    Examples
    --------
    >>> wheels = [[0, 30, -1.8], [0, -30, -1.6], [95, 30, -1.6], [95, -30, -1.4]]
    >>> tilt_deg(rest([wheels], [[38, 0]])).round(3)
    array([0.191])
    """
    return np.degrees(-np.arctan(stance.plane[:, 1]))


def twist_mm(contacts_mm: ArrayLike) -> Floats:
    """
    Height of the front right contact over the plane of the other three, signed.

    Parameters
    ----------
    contacts_mm : (cars, 4, 3) array_like
        Contacts in the order rear left, rear right, front left, front right.

    Returns
    -------
    (cars,) ndarray
        Twist, mm; NaN where a contact is absent.

    Raises
    ------
    MisshapenContactsError
        If there are not four contacts a car.

    Examples
    --------
    >>> wheels = [[0, 30, -1.7], [0, -30, -1.7], [95, 28, -1.5], [95, -28, -1.6]]
    >>> twist_mm([wheels]).round(3)
    array([-0.1])
    """
    contacts = _contacts(contacts_mm)
    _need(contacts.shape[1] == 4, "Twist is a matter of four wheels.")
    return _heights(_planes(contacts[:, :3]), contacts[:, 3])


def _stance(contacts: Floats, support: IntArray, reason: Codes) -> Stance:
    stands = support[:, :1] >= 0
    corners = np.take_along_axis(contacts, support[..., None], axis=1)
    plane = np.where(stands, _planes(corners), np.nan)
    heights = _heights(plane[:, None], contacts)
    lift = np.fmax.reduce(heights, axis=1)
    lift = np.where(np.abs(lift) <= _TOUCH_MM, 0.0, lift)
    return Stance(plane=plane, support=support, lift_mm=lift, reason=reason)


def _planes(corners: Floats) -> Floats:
    """Lay z = a·x + b·y + c through (..., 3, 3); NaN if the three are in line."""
    first = corners[..., 0, :]
    one, other = corners[..., 1, :] - first, corners[..., 2, :] - first
    # The normal of the two sides, their vector product.
    ahead = one[..., 1] * other[..., 2] - one[..., 2] * other[..., 1]
    aside = one[..., 2] * other[..., 0] - one[..., 0] * other[..., 2]
    upright = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
    # Twice the triangle's area, seen from above; below this it is rounding.
    upright = np.where(np.abs(upright) > _TOUCH_MM, upright, np.nan)
    a, b = -ahead / upright, -aside / upright
    return np.stack(
        (a, b, first[..., 2] - a * first[..., 0] - b * first[..., 1]), axis=-1
    )


def _heights(plane: Floats, points: Floats) -> Floats:
    ground = plane[..., 0] * points[..., 0] + plane[..., 1] * points[..., 1]
    heights: Floats = points[..., 2] - ground - plane[..., 2]
    return heights


def _inside(corners: Floats, point: Floats) -> Bools:
    """Tell whether (..., 2) is in the triangle (..., 3, 2), or at most 1e-9 off it."""
    edge = np.roll(corners, -1, axis=-2) - corners
    ahead = point[..., None, :] - corners
    turn = edge[..., 0] * ahead[..., 1] - edge[..., 1] * ahead[..., 0]
    sense = edge[..., 0, 0] * edge[..., 1, 1] - edge[..., 0, 1] * edge[..., 1, 0]
    room = _TOUCH_MM * np.hypot(edge[..., 0], edge[..., 1])
    return np.asarray((turn * np.sign(sense)[..., None] >= -room).all(axis=-1))


def _contacts(contacts_mm: ArrayLike) -> Floats:
    contacts = np.asarray(contacts_mm, dtype=np.float64)
    _need(
        contacts.ndim == 3 and contacts.shape[1] >= 3 and contacts.shape[2] == 3,
        "Contacts are an array of cars by three or more by x, y and z.",
    )
    return contacts


def _need(holds: bool, message: str) -> None:  # noqa: FBT001
    if not holds:
        raise MisshapenContactsError(message)
