"""
Derived columns, from the readings of a field of cars.

Millimetres and degrees; one number a car.  What was taken counts before what
would be derived; what was neither taken nor has a formula takes its default.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import pi, sqrt
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from inspection.compute.axles import (
    axle_level_mm,
    axle_square_deg,
    motor_axle_offset_mm,
)
from inspection.compute.fields import CodeArray, Field, FloatArray, IntArray
from inspection.compute.quantities import (
    QUANTITIES,
    AxleHeightTo,
    AxleHeld,
    Kind,
    Layout,
    column_owner,
    columns_of,
)
from inspection.compute.stance import centre_of_gravity_mm
from inspection.compute.tracing import Formula, Traced, choose, derive

ScalarT = TypeVar("ScalarT", bound=np.generic)

_IN_LINE = tuple(Layout).index(Layout.IN_LINE)
_TOP = tuple(AxleHeightTo).index(AxleHeightTo.TOP)
_UNDERSIDE = tuple(AxleHeightTo).index(AxleHeightTo.UNDERSIDE)
_HANGING = tuple(AxleHeld).index(AxleHeld.HANGING)
_EXACT = frozenset({Kind.COUNTED, Kind.DECLARED, Kind.LOOKED_AT})


@dataclass(frozen=True, kw_only=True, eq=False)
class Reading:
    """
    One column of a field with its uncertainty, the default where none was taken.

    ``(cars,)`` each.
    """

    value: FloatArray
    random: FloatArray
    systematic: FloatArray
    gauge: IntArray
    bound: CodeArray

    @property
    def u(self) -> FloatArray:
        """Standard uncertainty of the column by itself."""
        return np.hypot(self.random, self.systematic)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Tables:
    """
    A field's arrays, ``(inputs + 1, cars)``; the last column was never read.

    What is not known is exact, so that it adds nothing to what does not use it.
    """

    value: FloatArray
    random: FloatArray
    systematic: FloatArray
    gauge: IntArray
    bound: CodeArray

    @classmethod
    def of(cls, field: Field) -> "_Tables":
        known = ~np.isnan(field.value.T)
        bound = np.zeros_like(field.gauge) if field.bound is None else field.bound

        def table(array: NDArray[ScalarT], blank: float) -> NDArray[ScalarT]:
            full = np.full((len(known) + 1, field.cars), blank, dtype=array.dtype)
            np.copyto(full[:-1], array.T, where=known)
            return full

        return cls(
            value=table(field.value, np.nan),
            random=table(field.random, 0),
            systematic=table(field.systematic, 0),
            gauge=table(field.gauge, -1),
            bound=table(bound.astype(np.int8), 0),
        )

    def reading(self, at: int | None) -> Reading:
        row = -1 if at is None else at
        return Reading(
            value=self.value[row],
            random=self.random[row],
            systematic=self.systematic[row],
            gauge=self.gauge[row],
            bound=self.bound[row],
        )


class Derivation:
    """
    The columns of a field of cars, each worked out once, when asked for.

    Parameters
    ----------
    field : Field
        The cars.
    traced : bool
        Whether to trace values back to the readings, for their uncertainty.

    Examples
    --------
    >>> widths = np.array([[64.0, 16.0]])
    >>> cars = Field(
    ...     quantities=("width_rear", "tyre_width_rear"),
    ...     value=widths,
    ...     random=0.01 * np.ones((1, 2)),
    ...     systematic=np.zeros((1, 2)),
    ...     gauge=np.zeros((1, 2), dtype=np.int64),
    ... )
    >>> Derivation(cars, traced=False).column("track_rear").value
    array([48.])
    """

    def __init__(self, field: Field, *, traced: bool) -> None:
        self.field = field
        self.traced = traced
        # A column is one run of memory here.
        self._tables = _Tables.of(field)
        self._columns: dict[str, Traced] = {}
        self._derived: dict[str, Traced] = {}
        self._readings: dict[str, Reading] = {}

    def reading(self, name: str) -> Reading:
        """
        Take a column as it was read, or its default.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Reading
            Exact where not known, so that it adds nothing to what does not use it.
        """
        if name not in self._readings:
            self._readings[name] = self._read(name)
        return self._readings[name]

    def column(self, name: str) -> Traced:
        """
        Take a column: as read, else derived, else its default.

        An axle's height is its centre's, held up, however it was read.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Traced
            NaN where it is not known.
        """
        if name not in self._columns:
            self._columns[name] = self._work_out(name)
        return self._columns[name]

    def derived(self, name: str) -> Traced:
        """
        Derive a column, whether or not it was taken too.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Traced
            NaN where it cannot be derived.
        """
        if name not in self._derived:
            inputs, formula = FORMULAS[name]
            (value,) = derive(formula, [self.column(one) for one in inputs])
            self._derived[name] = value
        return self._derived[name]

    def as_read(self, name: str) -> Traced:
        """
        Take a column as it was read, or its default.

        Parameters
        ----------
        name : str
            The column.

        Returns
        -------
        Traced
            NaN where it was not read and has no default.
        """
        reading = self.reading(name)
        # What is only known to be at least this is no value to compute with.
        value = np.where(reading.bound == 0, reading.value, np.nan)
        if not self.traced or QUANTITIES[column_owner(name)[0]].kind in _EXACT:
            return Traced(value=value)
        return Traced(value=value, slopes={name: np.ones_like(value)})

    def _read(self, name: str) -> Reading:
        row = QUANTITIES[column_owner(name)[0]]
        reading = self._tables.reading(self.field.position(name))
        if row.default is None:
            return reading
        taken = ~np.isnan(reading.value)
        # Anything within the half width is alike likely: JCGM 100 4.3.7.
        spread = row.default_half_width / sqrt(3)
        return replace(
            reading,
            value=np.where(taken, reading.value, row.default),
            random=np.where(taken, reading.random, spread),
        )

    def _work_out(self, name: str) -> Traced:
        taken = self.as_read(name)
        if name in AXLE_HEIGHTS:
            return self._axle_centre(taken)
        if name not in FORMULAS:
            return taken
        return choose(~np.isnan(taken.value), taken, self.derived(name))

    def _axle_centre(self, taken: Traced) -> Traced:
        words = tuple(AXLE_HEIGHT_NEEDS.values())
        if all(self.field.position(word) is None for word in words):
            return taken
        more = [self.column(name) for name in (*AXLE_HEIGHT_NEEDS, *words)]
        (centre,) = derive(_axle_centre, [taken, *more])
        return centre


def _axle_centre(m: FloatArray) -> FloatArray:
    height, diameter, play, to, held = m.T
    to_centre = np.select([to == _TOP, to == _UNDERSIDE], [-diameter / 2, diameter / 2])
    # On the block an axle hangs at the bottom of its play, on its wheels it sits at
    # the top: unheld, every clearance would come out too large by the whole play.
    hung = np.where(held == _HANGING, play, 0.0)
    return np.stack((height + to_centre + hung,), axis=1)


def _difference(m: FloatArray) -> FloatArray:
    return m[:, :1] - m[:, 1:]


def _sum(m: FloatArray) -> FloatArray:
    return m[:, :1] + m[:, 1:]


def _half(m: FloatArray) -> FloatArray:
    return m / 2


def _the_same(m: FloatArray) -> FloatArray:
    return m


def _half_across(m: FloatArray) -> FloatArray:
    # Turned across the car, a can takes up more than its width: it is measured.
    in_line = np.isnan(m[:, 1:]) | (m[:, 1:] == _IN_LINE)
    return np.where(in_line, m[:, :1] / 2, np.nan)


def _ratio(m: FloatArray) -> FloatArray:
    return m[:, :1] / m[:, 1:]


def _rollout(m: FloatArray) -> FloatArray:
    return pi * (m[:, :1] + m[:, 1:2]) / 2 / m[:, 2:]


def _axle_level(m: FloatArray) -> FloatArray:
    return axle_level_mm(m[:, None, :2], span_mm=m[:, 2:3], track_mm=m[:, 3:])


def _axle_square(m: FloatArray) -> FloatArray:
    return axle_square_deg(m[:, None, :2], span_mm=m[:, 2:])


def _motor_axle_offset(m: FloatArray) -> FloatArray:
    return motor_axle_offset_mm(
        m[:, None, :2], motor_axis_mm=m[:, 2:3], gear_offset_mm=m[:, 3:]
    )


def _balance(m: FloatArray) -> FloatArray:
    return centre_of_gravity_mm((m[:, 0] + m[:, 1]) / 2)[:, :1]


#: Columns read as `axle_height_to` and `axle_held` say, and used as the centre.
AXLE_HEIGHTS = frozenset(
    {*columns_of("axle_height_rear"), *columns_of("axle_height_front")}
)
#: What may be needed to get from the one to the other, by which word but the first.
AXLE_HEIGHT_NEEDS: Mapping[str, str] = MappingProxyType(
    {"axle_diameter": "axle_height_to", "axle_play_vertical": "axle_held"}
)

#: Columns with a formula: what goes in, and the formula.
FORMULAS: Mapping[str, tuple[tuple[str, ...], Formula]] = MappingProxyType(
    {
        "track_rear": (("width_rear", "tyre_width_rear"), _difference),
        "track_front": (("width_front", "tyre_width_front"), _difference),
        "tyre_mismatch_rear": (columns_of("tyre_diameter_rear"), _difference),
        "tyre_mismatch_front": (columns_of("tyre_diameter_front"), _difference),
        "axle_level": (
            (
                *columns_of("axle_height_rear"),
                "axle_station_span_rear",
                "track_rear",
            ),
            _axle_level,
        ),
        "axle_square": (
            (*columns_of("axle_to_reference"), "axle_reference_span"),
            _axle_square,
        ),
        "gear_ratio": (("teeth_gear", "teeth_pinion"), _ratio),
        "rollout": ((*columns_of("tyre_diameter_rear"), "gear_ratio"), _rollout),
        "motor_lift_front": (("motor_lift_rear",), _the_same),
        "shaft_height_in_can": (("can_height",), _half),
        "motor_axis_height": (("motor_lift_rear", "shaft_height_in_can"), _sum),
        "motor_axle_offset": (
            (
                *columns_of("axle_height_rear"),
                "motor_axis_height",
                "gear_design_offset",
            ),
            _motor_axle_offset,
        ),
        "can_half_width": (("can_width", "layout"), _half_across),
        "datum_half_width_rear": (("chassis_width",), _half),
        "datum_half_width_front": (("chassis_width",), _half),
        "centre_of_gravity_x": (columns_of("wheelbase"), _balance),
    }
)
