"""Which masters a kind of gauge can be checked against, and what it may read of one."""

from types import MappingProxyType
from typing import Final

from inventory.compute.measuring.instruments import Instrument
from inventory.compute.numbers import (
    Known,
    KnownOf,
    Strange,
    Unit,
    find_strange,
)

#: Least and greatest size, in the unit that such a gauge reads.  Common practice, no
#: source: of what a club has, the largest.
_RANGES: Final = MappingProxyType(
    {
        (Instrument.CALIPER, Unit.MILLIMETRE): (0.5, 200.0),
        (Instrument.MICROMETER, Unit.MILLIMETRE): (0.5, 50.0),
        (Instrument.SLIP_GAUGE, Unit.MILLIMETRE): (0.05, 100.0),
        (Instrument.FEELER, Unit.MILLIMETRE): (0.02, 5.0),
        (Instrument.GO_PLATE, Unit.MILLIMETRE): (0.1, 200.0),
        (Instrument.BOX, Unit.MILLIMETRE): (10.0, 400.0),
        (Instrument.RULE, Unit.MILLIMETRE): (1.0, 1000.0),
        (Instrument.HEIGHT_GAUGE, Unit.MILLIMETRE): (0.5, 300.0),
        (Instrument.DIAL_INDICATOR, Unit.MILLIMETRE): (0.05, 50.0),
        (Instrument.DUROMETER, Unit.SHORE_A): (5.0, 100.0),
        (Instrument.SCALE, Unit.GRAM): (1.0, 5_000.0),
        (Instrument.PULL_SCALE, Unit.GRAM): (1.0, 5_000.0),
        (Instrument.TACHOMETER, Unit.RPM): (100.0, 200_000.0),
        (Instrument.OHMMETER, Unit.OHM): (0.01, 100_000.0),
    }
)
#: A gauge that is further from its master is misread or shows another unit.
_SHARE: Final = 0.1


def master_range(instrument: Instrument, unit: Unit) -> tuple[float, float] | None:
    """
    Give the least and the greatest master of a gauge.

    Parameters
    ----------
    instrument : Instrument
        What kind of gauge it is.
    unit : Unit
        What it reads.

    Returns
    -------
    tuple of float, or None
        In the unit; None where nobody knows.

    Examples
    --------
    >>> master_range(Instrument.SCALE, Unit.GRAM)
    (1.0, 5000.0)
    """
    return _RANGES.get((instrument, unit))


def find_strange_master(
    master: float, *, instrument: Instrument, unit: Unit
) -> Strange | None:
    """
    Tell whether a gauge of this kind can have no such master.

    Parameters
    ----------
    master : float
        What the master is said to be, in ``unit``.
    instrument : Instrument
        What kind of gauge it is for.
    unit : Unit
        Of the master.

    Returns
    -------
    Strange or None
        What is odd about it; None for a master that such a gauge may have.

    Examples
    --------
    >>> odd = find_strange_master(
    ...     0.02, instrument=Instrument.CALIPER, unit=Unit.MILLIMETRE
    ... )
    >>> odd.plausible
    (0.5, 200.0)
    """
    return find_strange(master, unit=unit, plausible=master_range(instrument, unit))


def find_strange_of_master(
    reading: float, *, master: float, unit: Unit
) -> Strange | None:
    """
    Tell whether a reading is so far from its master that it was misread.

    A tenth of the master either way is no error of a gauge, nor are 0.3 mm.

    Parameters
    ----------
    reading : float
        What the gauge showed, in ``unit``.
    master : float
        What it was held on, in the same unit.
    unit : Unit
        Of both.

    Returns
    -------
    Strange or None
        What is odd about the reading, with what may have been meant; else None.

    Examples
    --------
    >>> find_strange_of_master(2.0, master=20.0, unit=Unit.MILLIMETRE).meant
    20.0
    """
    low, high = sorted((master * (1 - _SHARE), master * (1 + _SHARE)))
    return find_strange(
        reading,
        unit=unit,
        plausible=(round(low, 6), round(high, 6)) if master else None,
        beside=[Known(of=KnownOf.MASTER, value=master)],
    )
