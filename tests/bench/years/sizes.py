"""How large a club is made."""

from dataclasses import dataclass

#: Nights on which each car's turn is played by the actions, before it is copied.
TEMPLATE_NIGHTS = 12
#: A pair of rear tyres lasts so many nights.
NIGHTS_A_TYRE = 6
DEMO_CARS = 12


@dataclass(frozen=True, kw_only=True)
class Sizes:
    """
    A history of race nights.

    ``faithful`` cars, the demo's own, are there on every night; of the others a car
    races for some two years.  What is left of ``parts`` when the cars have theirs
    lies in drawers or is retired.
    """

    nights: int
    entries_a_night: int = 74
    cars: int
    parts: int
    people: int
    template_nights: int = TEMPLATE_NIGHTS
    faithful: int = 4

    @property
    def tyre_cycle(self) -> int:
        return min(NIGHTS_A_TYRE, self.template_nights)

    @property
    def in_drawers(self) -> int:
        return min(2 * self.nights, self.parts // 2)


def sizes_of(nights: int) -> Sizes:
    """Give the sizes of a club that has held so many nights."""
    return Sizes(
        nights=nights,
        cars=120 + 19 * nights // 10,
        parts=71 * nights,
        people=60 + nights // 4,
    )


#: As small as shows whether a page grows: for the test suite.
SMALL = Sizes(
    nights=4,
    entries_a_night=14,
    cars=10,
    parts=200,
    people=12,
    template_nights=1,
    faithful=12,
)
