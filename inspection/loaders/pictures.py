"""A sheet's figures as the drawings take them."""

from inspection.compute.quantities import FrontCarrier, columns_of
from inspection.drawing.car import CarFigures
from inspection.loaders.sheets import LoadedSheet


def figures_of(loaded: LoadedSheet) -> CarFigures:
    """Give a car's known values, the derived ones that a rule asked among them."""
    derived = {
        column: finding.value
        for finding in loaded.findings
        if finding.value is not None
        for column in columns_of(finding.rule.quantity.key)
        if column not in loaded.values
    }
    taken = {column: value.value for column, value in loaded.values.items()}
    return CarFigures(
        values=derived | taken,
        front_on_guide=loaded.sheet.entry.car.front_carrier == FrontCarrier.GUIDE,
        failing=frozenset(
            column
            for finding in loaded.refused
            for column in columns_of(finding.rule.quantity.key)
        ),
    )
