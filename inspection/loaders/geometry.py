"""The columns of a car's stored geometry that its class asks for."""

from inspection.compute.quantities import (
    QUANTITIES,
    FrontCarrier,
    Kind,
    column_owner,
    readings_to_take,
)
from inspection.loaders.rulebooks import load_edition
from inspection.models import Car, Edition

#: No rule speaks of it, and what goes on the axle is bored to it.
_BORED_TO = "axle_diameter"
#: A car says these of itself.
_OF_THE_CAR = frozenset({"layout", "front_carrier"})


def columns_to_store(car: Car) -> tuple[str, ...]:
    """
    Give the columns that the newest edition of the car's class rests on.

    Declared words first; then what is measured once and after a rebuild, and
    what a part on the car would give where one of the inventory is fitted.
    """
    edition = (
        Edition.objects.published().filter(rulebook=car.race_class.rulebook_id).first()
    )
    if edition is None:
        return ()
    asked = readings_to_take(
        [rule.quantity.key for rule in load_edition(edition).rules],
        front_carrier=FrontCarrier(car.front_carrier),
        most_tonight=0,
    )
    declared = tuple(c for c in asked.declared if c not in _OF_THE_CAR)
    measured = tuple(
        c
        for c in asked.stored
        if QUANTITIES[column_owner(c)[0]].kind is not Kind.DERIVED
    )
    return tuple(dict.fromkeys((*declared, *measured, _BORED_TO)))
