"""
The draw of the hand-out motors: one for each driver, and anyone can check it.

No chance in here.  Everything follows from the seed, by a rule that a shell can
repeat: ``printf %s 'SEED/driver/TAG' | sha256sum`` for every driver, the same with
``motor`` for every motor; each list sorted by what comes out, the first driver gets
the first motor.  So that nobody tries seeds till one suits, the seed is made in
front of all when both lists are closed, with dice, say.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import ClassVar

from inventory.compute.errors import ComputeError


class NoSeedError(ComputeError):
    """A draw needs a seed."""

    code: ClassVar[str] = "no_seed"


class DrawnTwiceError(ComputeError):
    """A driver or a motor is on its list twice; ``tag`` says which."""

    code: ClassVar[str] = "drawn_twice"

    def __init__(self, tag: str) -> None:
        super().__init__(f"{tag!r} is on the list twice")
        self.tag = tag


class TooFewMotorsError(ComputeError):
    """There are fewer motors than drivers."""

    code: ClassVar[str] = "too_few_motors"

    def __init__(self, *, motors: int, drivers: int) -> None:
        super().__init__(f"{motors} motors for {drivers} drivers")
        self.motors, self.drivers = motors, drivers


@dataclass(frozen=True, kw_only=True)
class Lot:
    """One driver's motor."""

    driver: str
    motor: str


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """
    Who gets which motor.

    Attributes
    ----------
    lots : tuple of Lot
        In the order of the drivers as they were given.
    spare : tuple of str
        Motors left in the pool, in the order in which they would be drawn next.
    """

    lots: tuple[Lot, ...]
    spare: tuple[str, ...]


def draw_motors(seed: str, *, drivers: Sequence[str], motors: Iterable[str]) -> Drawn:
    """
    Give each driver one motor.

    The order of the lists does not matter, only who is on them.

    Parameters
    ----------
    seed : str
        Agreed in front of all, not empty.
    drivers : sequence of str
        Names or numbers, each once.
    motors : iterable of str
        Tags, each once, as many as there are drivers or more.

    Returns
    -------
    Drawn

    Raises
    ------
    NoSeedError
        If the seed is empty.
    DrawnTwiceError
        If a driver or a motor is on its list twice.
    TooFewMotorsError
        If there are fewer motors than drivers.

    Examples
    --------
    >>> draw = draw_motors("6 2 5", drivers=["7", "12"], motors=["M1", "M2", "M3"])
    >>> [(lot.driver, lot.motor) for lot in draw.lots], draw.spare
    ([('7', 'M3'), ('12', 'M1')], ('M2',))
    """
    if not seed:
        text = "a draw needs a seed"
        raise NoSeedError(text)
    shuffled_drivers = _shuffle(f"{seed}/driver/", drivers)
    shuffled_motors = _shuffle(f"{seed}/motor/", motors)
    if len(shuffled_motors) < len(shuffled_drivers):
        raise TooFewMotorsError(
            motors=len(shuffled_motors), drivers=len(shuffled_drivers)
        )
    motor = dict(zip(shuffled_drivers, shuffled_motors, strict=False))
    return Drawn(
        lots=tuple(Lot(driver=driver, motor=motor[driver]) for driver in drivers),
        spare=tuple(shuffled_motors[len(shuffled_drivers) :]),
    )


# Two labels, for with one a driver and a motor of the same number would stand at like
# places in the two lists, and find each other in every draw.
def _shuffle(label: str, tags: Iterable[str]) -> list[str]:
    count = Counter(tags)
    for tag, times in count.items():
        if times > 1:
            raise DrawnTwiceError(tag)
    return sorted(count, key=lambda tag: sha256(f"{label}{tag}".encode()).digest())
