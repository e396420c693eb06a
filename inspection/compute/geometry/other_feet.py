"""
The other three feet of a car that nearly stands on four.

Millimetres in the chassis frame; arrays with the cars first.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from inspection.compute.geometry.contacts import Stance, rest, rest_as_before

# Let down by so much more than it hung, a wheel carries.
_LET_DOWN_MM: Final = 1e-3


def rest_on_others(
    stance: Stance, contacts_mm: ArrayLike, centre_of_gravity_mm: ArrayLike
) -> Stance:
    """
    Put cars on the three that they would stand on if the wheel that hangs did not.

    Of four wheels nearly in one plane, errors of reading decide which one hangs.

    Parameters
    ----------
    stance : Stance
        How the cars stand.
    contacts_mm : (cars, k, 3) array_like
        The contacts, in the same order.
    centre_of_gravity_mm : (cars, 2) array_like
        As for `rest`.

    Returns
    -------
    Stance
        Of these very contacts, on the other support; as before where there are not
        four, or no other.

    Raises
    ------
    MisshapenContactsError
        If the arrays do not describe the same cars.

    Examples
    --------
    >>> wheels = [[0, 30, -1.7], [0, -30, -1.7], [95, 28, -1.5], [95, -28, -1.49]]
    >>> two, gravity = [wheels] * 2, [[38, 0]] * 2
    >>> stance = rest(two, gravity)
    >>> stance.support[0], rest_on_others(stance, two, gravity).support[0]
    (array([0, 1, 2]), array([0, 1, 3]))
    """
    contacts = np.asarray(contacts_mm, dtype=np.float64)
    if contacts.shape[1] != 4 or not len(contacts):
        return stance
    hangs = np.arange(4) == (6 - stance.support.sum(axis=1))[:, None]
    hangs &= stance.support[:, :1] >= 0
    whole = np.asarray(~np.isnan(contacts).any(axis=(1, 2)))
    hangs &= whole[:, None]
    let_down = contacts.copy()
    let_down[..., 2] -= np.where(hangs, stance.lift_mm[:, None] + _LET_DOWN_MM, 0.0)
    # Twice, since one car alone that falls over is refused.
    both = np.concatenate((let_down, let_down))
    gravity = np.asarray(centre_of_gravity_mm, dtype=np.float64)
    other = rest(both, np.concatenate((gravity, gravity))).support[: len(contacts)]
    support = np.where(other[:, :1] >= 0, other, stance.support)
    return rest_as_before(replace(stance, support=support), contacts)
