"""
Sizes as they come in: checked, whole, and each group told from the next.

Ints micrometres, or whole steps of any other unit.  Every refusal names the
position at fault, so that a page can show the row.
"""

from collections.abc import Hashable, Iterable
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.compute.arrays import Ints
from inventory.compute.errors import ComputeError

# A kilometre.  No part is near it, and below it sums of a million sizes, and sizes
# of many groups laid end to end, stay exact in 64 bits.
LARGEST_SIZE = 10**9


class NotARowError(ComputeError):
    """The sizes or groups are not one row, or not as many as each other."""

    code: ClassVar[str] = "not_a_row"


class PositionError(ComputeError):
    """One entry is at fault; ``position`` says which, from 0."""

    code: ClassVar[str] = "bad_entry"

    def __init__(self, text: str, *, position: int) -> None:
        super().__init__(f"position {position}: {text}")
        self.position = position


class NotANumberError(PositionError):
    """An entry is missing, infinite or no number at all."""

    code: ClassVar[str] = "not_a_number"


class NotWholeError(PositionError):
    """An entry has a fraction where whole steps are compared."""

    code: ClassVar[str] = "not_whole"


class NotASizeError(PositionError):
    """A size is zero, negative, or beyond a kilometre."""

    code: ClassVar[str] = "not_a_size"


class NoGroupError(PositionError):
    """A group is NaN or cannot be told from another."""

    code: ClassVar[str] = "no_group"


class NotALimitError(ComputeError):
    """A tolerance, stagger or other limit is negative, not whole, or too large."""

    code: ClassVar[str] = "not_a_limit"


def check_sizes(size: ArrayLike) -> Ints:
    """
    Take sizes as a row of positive whole numbers.

    Parameters
    ----------
    size : (n,) array_like of int
        Sizes, whole micrometres; floats are taken if they are whole.

    Returns
    -------
    (n,) ndarray of int64
        What was given itself, where it is of this kind: not to be written in.

    Raises
    ------
    NotARowError
        If it is not one row.
    NotANumberError, NotWholeError, NotASizeError
        With the first position at fault.

    Examples
    --------
    >>> check_sizes([20000, 18200.0])
    array([20000, 18200])
    """
    values = _row(size)
    if values.dtype.kind == "f":
        _refuse(~np.isfinite(values), NotANumberError, "not a finite number")
        _refuse(values != np.floor(values), NotWholeError, "not a whole number")
    if values.size and (values.min() < 1 or values.max() > LARGEST_SIZE):
        _refuse(
            (values < 1) | (values > LARGEST_SIZE),
            NotASizeError,
            f"a size lies from 1 to {LARGEST_SIZE}",
        )
    return values.astype(np.int64, copy=False)


def check_limit(name: str, limit: float) -> int:
    """
    Take a limit as a whole number of steps, zero allowed.

    Parameters
    ----------
    name : str
        What the limit is called, for the refusal.
    limit : int
        The limit, whole micrometres.

    Returns
    -------
    int

    Raises
    ------
    NotALimitError
        If it is negative, not whole, or beyond a kilometre.

    Examples
    --------
    >>> check_limit("tolerance", 50)
    50
    """
    if not limit >= 0 or limit % 1 != 0:  # NaN is not, infinity leaves NaN
        text = f"{name} must be a whole number, zero or more, not {limit!r}"
        raise NotALimitError(text)
    # Added to a size, a limit must stay in 64 bits.
    if limit > LARGEST_SIZE:
        text = f"{name} must be at most {LARGEST_SIZE}, not {limit!r}"
        raise NotALimitError(text)
    return int(limit)


def number_groups(group: Iterable[Hashable] | None, *, count: int) -> Ints:
    """
    Give the groups numbers, in order of first appearance.

    Parameters
    ----------
    group : (n,) iterable, optional
        A label for each size: text, number or tuple; None puts all in one group.
    count : int
        How many labels there must be.

    Returns
    -------
    (n,) ndarray of int64

    Raises
    ------
    NotARowError
        If there is not one label for each size.
    NoGroupError
        If a label is NaN or no label at all (a list), with its position.

    Examples
    --------
    >>> number_groups(["soft", "hard", "soft"], count=3)
    array([0, 1, 0])
    """
    if group is None:
        return np.zeros(count, np.int64)
    if isinstance(group, str) or (isinstance(group, np.ndarray) and group.ndim != 1):
        text = "group labels come as one row"
        raise NotARowError(text)
    labels = group.tolist() if isinstance(group, np.ndarray) else list(group)
    if len(labels) != count:
        text = f"{count} sizes need {count} group labels, not {len(labels)}"
        raise NotARowError(text)
    try:
        number = {label: code for code, label in enumerate(dict.fromkeys(labels))}
    except TypeError:
        text = "not a group label"
        position = [_is_label(label) for label in labels].index(False)
        raise NoGroupError(text, position=position) from None
    for label in number:
        if label != label:  # noqa: PLR0124 - NaN alone differs from itself
            text = "a group label is missing"
            raise NoGroupError(text, position=labels.index(label))
    return np.fromiter(map(number.__getitem__, labels), np.int64, count)


def _is_label(label: Hashable) -> bool:
    try:
        hash(label)
    except TypeError:
        return False
    return True


def _row(size: ArrayLike) -> NDArray[np.int64 | np.float64]:
    try:
        values = np.asarray(size)
    except ValueError as ragged:
        text = "sizes come as one row"
        raise NotARowError(text) from ragged
    if values.ndim != 1:
        text = f"sizes come as one row, not in {values.ndim} dimensions"
        raise NotARowError(text)
    if values.dtype.kind in "iuf":
        return values
    for position, value in enumerate(values.tolist()):
        if isinstance(value, bool) or not isinstance(value, int | float | np.number):
            text = f"{value!r} is not a number"
            raise NotANumberError(text, position=position)
    # A number too large for a float is clipped to one that is refused as a size.
    beyond = LARGEST_SIZE + 1
    clipped = [max(min(value, beyond), -beyond) for value in values.tolist()]
    return np.array(clipped, dtype=np.float64)


def _refuse(at_fault: NDArray[np.bool_], error: type[PositionError], text: str) -> None:
    if at_fault.any():
        raise error(text, position=int(at_fault.argmax()))
