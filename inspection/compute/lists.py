"""The lists by which a club moves in: what they are of."""

from enum import StrEnum


class ListKind(StrEnum):
    """What a list is of, in the order in which a club brings them in."""

    PEOPLE = "people"
    GAUGES = "gauges"
    CARS = "cars"
    RESULTS = "results"
