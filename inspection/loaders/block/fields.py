"""A car's values as the arrays that it is judged by."""

from collections.abc import Mapping

import numpy as np

from inspection.compute.quantities import COLUMNS
from inspection.compute.stance import Field
from inspection.loaders.block.values import ColumnValue, GaugeKey


def field_of(values: Mapping[str, ColumnValue]) -> Field:
    """
    Write one car's values as the one-row field that ``evaluate`` takes.

    Rounded to the millionths that a seal keeps, so that a sealed sheet gives the
    same findings again, to the digit.
    """
    shape = (1, len(COLUMNS))
    value, random = np.full(shape, np.nan), np.zeros(shape)
    systematic, gauge = np.zeros(shape), np.full(shape, -1, dtype=np.int64)
    bound = np.zeros(shape, dtype=np.int8)
    numbers = gauge_numbers(values)
    for index, column in enumerate(COLUMNS):
        known = values.get(column)
        if known is None:
            continue
        bound[0, index] = known.bound
        value[0, index] = round(known.value, 6)
        random[0, index] = round(known.random, 6)
        systematic[0, index] = round(known.systematic, 6)
        if known.gauge is not None:
            gauge[0, index] = numbers[known.gauge]
    return Field(
        columns=COLUMNS,
        value=value,
        random=random,
        systematic=systematic,
        gauge=gauge,
        bound=bound,
    )


def gauge_numbers(values: Mapping[str, ColumnValue]) -> dict[GaugeKey, int]:
    """Give each gauge of a car's values a number, in the order of the columns."""
    keys = (values[column].gauge for column in COLUMNS if column in values)
    known = dict.fromkeys(key for key in keys if key is not None)
    return {key: number for number, key in enumerate(known)}
