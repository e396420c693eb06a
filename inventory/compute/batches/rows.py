"""
What one row of a table of parts says, whichever way it came in.

Sizes in millionths of the quantity's own unit, as typed beside them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from inventory.compute.stock import PartQuantity, Section


@dataclass(frozen=True, kw_only=True, slots=True)
class BatchReading:
    """One value of one quantity, at one section of a tyre."""

    quantity: PartQuantity
    section: Section
    millionths: int
    text: str
    mark: str


@dataclass(frozen=True, kw_only=True, slots=True)
class BatchRow:
    """
    One part of a batch.

    Attributes
    ----------
    number : int
        Row of the file, from 1; or which part it is at the caliper.
    tag : str
        As the file gives it; empty: it gets one.
    words : mapping of str to str
        What is said of it, by the names of its facts; its name and drawer too.
    readings : tuple of BatchReading
        In the order they were taken.
    """

    number: int
    tag: str
    readings: tuple[BatchReading, ...]
    words: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, kw_only=True, slots=True)
class RowFault:
    """
    Why a row is not taken.

    Attributes
    ----------
    number : int
        Row of the file, from 1.
    column : str
        Its letter, as a spreadsheet has it; empty for the row as a whole.
    value : str
        What stands there.
    code : str
        Stable word for programs.
    sentence : str
        The reason, for people.
    """

    number: int
    column: str
    value: str
    code: str
    sentence: str
