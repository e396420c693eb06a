"""
An envelope: what of a car decides whether a part fits.

The car's field with its rulebook, the parts it has now, and the few sizes that
no rule speaks of.  One row a car; usually one car.  NaN is not measured.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from inspection.compute.judging import DecisionRule, Findings, Rules, evaluate
from inspection.compute.quantities import Layout, column_owner
from inspection.compute.stance import Derivation, Field
from inspection.compute.what_if import (
    Gears,
    Masses,
    Motors,
    PartTable,
    Pinions,
    unknown,
)
from inventory.compute.arrays import Bools, Floats
from inventory.compute.errors import ComputeError

IN_LINE: Final = tuple(Layout).index(Layout.IN_LINE)
ANGLEWINDER: Final = tuple(Layout).index(Layout.ANGLEWINDER)


class NoLayoutError(ComputeError):
    """A car's layout is not declared."""

    code = "no_layout"


class EnvelopeShapeError(ComputeError):
    """The parts, sizes and rules of an envelope are not of the same cars."""

    code = "envelope_shape"


#: Sizes that no rule speaks of; how each is taken stands in `inspection/words`.
MOUNTING_SIZES: Final = (
    "slot_low_mm",
    "slot_high_mm",
    "axle_to_bar_mm",
    "axle_room_mm",
    "shaft_to_bearing_mm",
    "spacers_mm",
    "shaft_end_mm",
    "arch_width_mm",
    "bay_height_mm",
    "bay_width_mm",
    "bay_length_mm",
    "lift_low_mm",
    "lift_high_mm",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Mounting(PartTable):
    """
    Sizes of cars that no rule speaks of; `MOUNTING_SIZES` names them.

    A car without a bar has it infinitely far away.  ``slot_low_mm`` and
    ``slot_high_mm`` are one value where the motor cannot move.
    """

    slot_low_mm: Floats = field(default_factory=unknown)
    slot_high_mm: Floats = field(default_factory=unknown)
    axle_to_bar_mm: Floats = field(default_factory=unknown)
    axle_room_mm: Floats = field(default_factory=unknown)
    shaft_to_bearing_mm: Floats = field(default_factory=unknown)
    spacers_mm: Floats = field(default_factory=unknown)
    shaft_end_mm: Floats = field(default_factory=unknown)
    arch_width_mm: Floats = field(default_factory=unknown)
    bay_height_mm: Floats = field(default_factory=unknown)
    bay_width_mm: Floats = field(default_factory=unknown)
    bay_length_mm: Floats = field(default_factory=unknown)
    lift_low_mm: Floats = field(default_factory=unknown)
    lift_high_mm: Floats = field(default_factory=unknown)


@dataclass(frozen=True, kw_only=True)
class Limits:
    """The strictest limits on one quantity, ``(cars,)``; NaN for none."""

    lower: Floats
    upper: Floats

    @property
    def given(self) -> Bools:
        """Where there is a limit at all."""
        return ~(np.isnan(self.lower) & np.isnan(self.upper))


@dataclass(frozen=True, kw_only=True, eq=False)
class Envelope:
    """
    Cars, their rulebook, their parts and the room they have.

    Parameters
    ----------
    car : Field
        The cars; the column ``layout`` is needed.
    rulebook : Rules
        The rules, for these cars.
    mounting : Mounting
        Sizes that no rule speaks of, a row a car.
    gear, pinion, motor : Gears, Pinions, Motors, optional
        What is on the cars, a row a car; what is not given is taken from the field
        where the field has it.
    masses : Masses, optional
        What the parts on the cars weigh.

    Raises
    ------
    EnvelopeShapeError
        If the rows are not of the same cars.
    NoLayoutError
        If a car's layout is not declared.

    Examples
    --------
    >>> car = Field.exact({"layout": [1.0], "teeth_gear": [27.0]})
    >>> rules = Rules.within({"teeth_gear": (26.0, 30.0)}, columns=car.columns)
    >>> envelope = Envelope(car=car, rulebook=rules)
    >>> envelope.gear.teeth, envelope.limits("teeth_gear").upper
    (array([27.]), array([30.]))
    """

    car: Field
    rulebook: Rules
    mounting: Mounting = field(default_factory=Mounting)
    gear: Gears = field(default_factory=lambda: Gears(teeth=unknown()))
    pinion: Pinions = field(default_factory=lambda: Pinions(teeth=unknown()))
    motor: Motors = field(default_factory=lambda: Motors(can_height_mm=unknown()))
    masses: Masses = field(default_factory=Masses)

    def __post_init__(self) -> None:
        tables: tuple[PartTable, ...] = (
            self.mounting,
            self.gear,
            self.pinion,
            self.motor,
        )
        rows = {table.row_count for table in tables} - {1}
        if (rows | {len(self.rulebook.applies)}) - {self.car.car_count}:
            msg = (
                f"An envelope of {self.car.car_count} cars has a row for each in its "
                "rulebook, sizes and parts."
            )
            raise EnvelopeShapeError(msg)
        if np.isnan(self.column("layout")).any():
            words = ", ".join(Layout)
            msg = f"How the motor sits is not declared: one of {words}."
            raise NoLayoutError(msg)
        for name, columns in _FROM_THE_FIELD.items():
            object.__setattr__(self, name, self._completed(name, columns))

    def _completed(self, name: str, columns: Mapping[str, str]) -> PartTable:
        table: PartTable = getattr(self, name)
        known: dict[str, Any] = {
            size: np.where(
                np.isnan(getattr(table, size)),
                self.column(column),
                getattr(table, size),
            )
            for size, column in columns.items()
        }
        return replace(table, **known)

    @cached_property
    def _derivation(self) -> Derivation:
        return Derivation(self.car, traced=False)

    def column(self, name: str) -> Floats:
        """
        Take a column of the cars: as read, else derived, else its default.

        Parameters
        ----------
        name : str
            Of the registry.

        Returns
        -------
        (cars,) ndarray
            NaN where not known.
        """
        return self._derivation.column(name).value

    @property
    def in_line(self) -> Bools:
        """Which cars have their motor along the car."""
        return np.equal(self.column("layout"), IN_LINE)

    @property
    def anglewinder(self) -> Bools:
        """Which cars have their motor aslant."""
        return np.equal(self.column("layout"), ANGLEWINDER)

    def limits(self, key: str) -> Limits:
        """
        Take the strictest limits that mandatory rules set on a quantity.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        Limits
            A car's own; NaN where no rule about it has one.
        """
        lower, upper = np.full((2, self.car.car_count), np.nan)
        for rule in self.rules_on(key):
            applies = self.rulebook.applies[:, rule]
            low = np.where(applies, self.rulebook.lower[rule], np.nan)
            high = np.where(applies, self.rulebook.upper[rule], np.nan)
            lower, upper = np.fmax(lower, low), np.fmin(upper, high)
        return Limits(lower=lower, upper=upper)

    def aims(self, key: str) -> Limits:
        """
        Take the limits that advice on a quantity aims at.

        Under guarded acceptance inside by the guard band of what the car has now,
        else the limits themselves.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        Limits
            A car's own; NaN where no rule about it has one.
        """
        limits = self.limits(key)
        if self.rulebook.decision_rule is not DecisionRule.GUARDED_ACCEPTANCE:
            return limits
        guard = np.zeros(self.car.car_count)
        for rule in self.rules_on(key):
            guard = np.fmax(guard, self._findings.guard_band[:, rule])
        return Limits(lower=limits.lower + guard, upper=limits.upper - guard)

    def read_to(self, name: str) -> Floats:
        """
        Say how well a column of the cars was read.

        Parameters
        ----------
        name : str
            Of the registry.

        Returns
        -------
        (cars,) ndarray
            Standard uncertainty; 0 where it was not read.
        """
        place = self.car.position(name)
        if place is None:
            return np.zeros(self.car.car_count)
        return np.hypot(self.car.random[:, place], self.car.systematic[:, place])

    def known_to(self, key: str) -> Floats:
        """
        Say how well a quantity that rules are about is known of the cars as they are.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        (cars,) ndarray
            Standard uncertainty; 0 where no rule asks.
        """
        rules = np.array(self.rules_on(key), dtype=np.intp)
        findings = evaluate(self.rulebook.only(rules), self.car)
        u: Floats = np.nan_to_num(findings.u).max(axis=1, initial=0.0)
        return u

    @cached_property
    def _findings(self) -> Findings:
        return evaluate(self.rulebook, self.car)

    def rules_on(self, key: str) -> tuple[int, ...]:
        """
        Find the mandatory rules on a quantity.

        Parameters
        ----------
        key : str
            The quantity's key.

        Returns
        -------
        tuple of int
            Their places in the rulebook.
        """
        return tuple(
            rule
            for rule in np.flatnonzero(self.rulebook.mandatory).tolist()
            if rule_key(self.rulebook, self.car, rule) == key
        )


def rule_key(rulebook: Rules, car: Field, rule: int) -> str:
    """
    Say which quantity a rule is about.

    Parameters
    ----------
    rulebook : Rules
        The rules.
    car : Field
        The field that their columns are places of.
    rule : int
        Place of the rule.

    Returns
    -------
    str
        Key of the registry.
    """
    key, _ = column_owner(car.columns[int(rulebook.column[rule])])
    return key


#: Sizes of the parts on a car that its field has too.
_FROM_THE_FIELD: Final[Mapping[str, Mapping[str, str]]] = MappingProxyType(
    {
        "gear": MappingProxyType(
            {
                "teeth": "teeth_gear",
                "outside_diameter_mm": "gear_diameter",
            }
        ),
        "pinion": MappingProxyType({"teeth": "teeth_pinion"}),
        "motor": MappingProxyType(
            {
                "can_height_mm": "can_height",
                "can_width_mm": "can_width",
                "can_length_mm": "can_length",
                "shaft_height_in_can_mm": "shaft_height_in_can",
            }
        ),
    }
)
