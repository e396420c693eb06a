"""Backwards: which cars a part fits."""

from collections.abc import Sequence
from typing import TypeAlias

from inspection.compute.envelope import Envelope
from inspection.compute.gear_fit import GearFit, gear_fit, pinion_fit
from inspection.compute.other_fits import MotorFit, TyreFit, motor_fit, tyre_fit
from inspection.compute.part_tables import Gears, Motors, Pairs, Pinions
from inventory.compute.errors import ComputeError

Part: TypeAlias = Gears | Pinions | Pairs | Motors
Fit: TypeAlias = GearFit | TyreFit | MotorFit


class NotOnePartError(ComputeError):
    """One part was to be set against cars, and there are more, or none."""

    code = "not_one_part"


def fits_on(part: Part, envelopes: Sequence[Envelope]) -> tuple[Fit, ...]:
    """
    Set one part against cars, whatever their rulebooks.

    Parameters
    ----------
    part : Gears, Pinions, Pairs or Motors
        One row.
    envelopes : sequence of Envelope
        The cars, one each; of many cars under one rulebook, `gear_fit` and
        `pinion_fit` take an envelope in one go.

    Returns
    -------
    tuple of GearFit, TyreFit or MotorFit
        One a car, of one row.

    Raises
    ------
    NotOnePartError
        If the table is not of one part.
    """
    if part.row_count != 1:
        msg = f"One part was expected; these are {part.row_count}."
        raise NotOnePartError(msg)
    return tuple(_fit(part, envelope) for envelope in envelopes)


def _fit(part: Part, envelope: Envelope) -> Fit:
    if isinstance(part, Gears):
        return gear_fit(part, envelope)
    if isinstance(part, Pinions):
        return pinion_fit(part, envelope)
    if isinstance(part, Pairs):
        return tyre_fit(part, envelope)
    return motor_fit(part, envelope)
