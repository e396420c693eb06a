"""What a car is, its layout and what carries its front: words that nobody reads."""

from collections.abc import Mapping
from dataclasses import replace

from inspection.compute.quantities import QUANTITIES, WORDS_OF_CAR, Source
from inspection.loaders.block.values import ColumnValue
from inspection.models import Car


def declared_values(car: Car) -> dict[str, ColumnValue]:
    """Give what a car is declared to be, whoever said so."""
    words = zip(WORDS_OF_CAR, (car.layout, car.front_carrier), strict=True)
    return {
        column: ColumnValue(
            column=column,
            value=float(
                [str(one) for one in QUANTITIES[column].words or ()].index(word)
            ),
            source=Source.DECLARED,
        )
        for column, word in words
    }


def words_of_car(car: Car, stored: Mapping[str, ColumnValue]) -> dict[str, ColumnValue]:
    """
    Give what a car is, with who said so last.

    ``stored`` is its stored geometry.  Where nobody has said it since it was so, its
    owner has.
    """
    value_by_column = declared_values(car)
    for column, declared in value_by_column.items():
        stated = stored.get(column)
        value_by_column[column] = (
            stated
            if stated is not None and stated.value == declared.value
            else replace(
                declared,
                said_by=car.owner.name,
                said_by_id=car.owner_id,
                said_at=car.changed_at,
            )
        )
    return value_by_column
