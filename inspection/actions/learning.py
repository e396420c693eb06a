"""What a sheet read of the parts on the car, told to their own history."""

from inspection.compute.quantities import PART_COLUMNS, Keeps, Kind, Source
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.block.values import ColumnValue, parts_on
from inspection.models import Car, CarValue, SheetPart, SheetReading
from inventory.actions.audit import Act
from inventory.actions.learning import (
    LearnedEstimate,
    LearnedReading,
    learn_estimates,
)
from inventory.compute.numbers import to_millionths
from inventory.compute.stock import PartQuantity


def tell_parts(loaded: LoadedSheet, *, act: Act) -> None:
    """
    Tell the fitted parts what tonight's readings found; part of the seal.

    Writes what ``learn_estimates`` writes.  Carried readings were told before; that a
    slip went, or stopped, is no size of the part.
    """
    readings = {reading.pk: reading for reading in loaded.readings}
    parts = SheetPart.objects.filter(sheet=loaded.sheet)
    learned = [
        _learned(part, quantity, loaded.values[column], readings)
        for part in parts
        for (position, quantity), column in PART_COLUMNS.items()
        if position == part.position
        and column in loaded.values
        and loaded.values[column].source is Source.TAKEN
        and loaded.values[column].went_under is None
    ]
    learn_estimates(learned, source=f"sheet {loaded.sheet.number}", act=act)


def tell_car(loaded: LoadedSheet, *, act: Act) -> None:
    """
    Keep the geometry that was read tonight as the car's own; part of the seal.

    Writes a CarValue for each column that stays true until the car is changed, so
    that the next night need not ask it; the one before is superseded.  What wears
    in a night, and what a part's history keeps, is left out; so is what lies between
    two slips, for a car's own value is one number and would hide how wide that is.
    """
    readings = {reading.pk: reading for reading in loaded.readings}
    positions = parts_on(loaded.sheet)
    of_parts = {
        column
        for (position, _), column in PART_COLUMNS.items()
        if position in positions
    }
    kept = [
        value
        for value in loaded.values.values()
        if value.source is Source.TAKEN
        and value.went_under is None
        and not value.between_slips
        and value.quantity.keeps is not Keeps.TONIGHT
        and value.quantity.kind in {Kind.MEASURED, Kind.COUNTED}
        and value.column not in of_parts
    ]
    if not kept:
        return
    car = loaded.sheet.entry.car
    CarValue.objects.current().filter(
        car=car, column__in=[value.column for value in kept]
    ).update(superseded_at=act.at)
    CarValue.objects.bulk_create(
        _stored(car, value, readings[value.reading_ids[-1]]) for value in kept
    )


def _stored(car: Car, value: ColumnValue, last: SheetReading) -> CarValue:
    return CarValue(
        car=car,
        column=value.column,
        value=to_millionths(value.value),
        text=last.text,
        gauge_mode=last.gauge_mode,
        gauge_check=last.gauge_check,
        taken_at=last.taken_at,
        by=last.by,
    )


def _middle(row: SheetReading) -> int:
    """Give the middle between the slip that goes and the one that does not."""
    return ((row.low or 0) + (row.high or 0)) // 2


def _learned(
    part: SheetPart,
    quantity: PartQuantity,
    value: ColumnValue,
    readings: dict[int, SheetReading],
) -> LearnedEstimate:
    rows = [readings[reading_id] for reading_id in value.reading_ids]
    return LearnedEstimate(
        part_id=part.part_id,
        quantity=quantity,
        value=to_millionths(value.value),
        random=to_millionths(value.random),
        systematic=to_millionths(value.systematic),
        gauge_mode_id=rows[-1].gauge_mode_id,
        gauge_check_id=rows[-1].gauge_check_id,
        by=rows[-1].by,
        readings=tuple(
            LearnedReading(
                reading_id=row.reading_id,
                value=row.value if row.value is not None else _middle(row),
                text=row.text,
                unit_typed=row.unit_typed,
            )
            for row in rows
        ),
    )
