"""Numbers for what tests make: none twice in a test, and the same in every run."""

import itertools
from collections.abc import Iterator


class _Numbers:
    """What is counted, from one."""

    coming: Iterator[int] = itertools.count(1)


def next_number() -> int:
    """Give the next number of what is made: nothing else in this test has it."""
    return next(_Numbers.coming)


def number_from_one() -> None:
    """Begin at one, whatever tests this process ran before."""
    _Numbers.coming = itertools.count(1)
