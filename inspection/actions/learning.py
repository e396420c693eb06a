"""What a sheet read of the parts on the car, told to their own history."""

from inspection.compute.entries import PartPosition
from inspection.compute.sources import PART_COLUMNS, Source
from inspection.loaders.sheets import LoadedSheet
from inspection.loaders.values import ColumnValue
from inspection.models import SheetPart, SheetReading
from inventory.actions.audit import Act
from inventory.actions.learning import (
    LearnedEstimate,
    LearnedReading,
    learn_estimates,
)
from inventory.compute.stock import PartQuantity


def tell_parts(loaded: LoadedSheet, *, act: Act) -> None:
    """
    Tell the fitted parts what tonight's readings found; part of the seal.

    Writes what ``learn_estimates`` writes.  Carried readings were told before.
    """
    readings = {reading.pk: reading for reading in loaded.readings}
    parts = SheetPart.objects.filter(sheet=loaded.sheet)
    learned = [
        _learned(part, quantity, loaded.values[column], readings)
        for part in parts
        for (position, quantity), column in PART_COLUMNS.items()
        if position == PartPosition(part.position)
        and column in loaded.values
        and loaded.values[column].source is Source.TAKEN
    ]
    learn_estimates(learned, source=f"sheet {loaded.sheet.number}", act=act)


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
        value=round(value.value * 1e6),
        random=round(value.random * 1e6),
        systematic=round(value.systematic * 1e6),
        gauge_mode_id=rows[-1].gauge_mode_id,
        gauge_check_id=rows[-1].gauge_check_id,
        by=rows[-1].by,
        readings=tuple(
            LearnedReading(
                reading_id=row.reading_id,
                value=row.value or 0,
                text=row.text,
                unit_typed=row.unit_typed,
            )
            for row in rows
        ),
    )
