"""
The columns of each list: what they are headed, by what words they are known.

A heading is taken for the column whose words it holds; the templates that are given
out are made of the same columns.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from inspection.compute.lists import ListKind
from inspection.compute.night import EntryState
from inspection.compute.quantities import (
    COLUMNS,
    QUANTITIES,
    WORDS_OF_CAR,
    FrontCarrier,
    Kind,
    Layout,
    column_owner,
    label_of,
)
from inventory.compute.measuring import GaugeMode, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise


@dataclass(frozen=True, kw_only=True)
class ListColumn:
    """
    One column of a list; ``most`` letters of it are kept at the most.

    One that is ``part_of`` another stands in its place, beside the other parts of it:
    what they say is joined, in this order.
    """

    name: str
    heading: str
    example: str = ""
    also: tuple[str, ...] = ()
    is_needed: bool = False
    most: int = 40
    expects: str | Promise = ""
    part_of: str = ""

    @property
    def known_by(self) -> frozenset[str]:
        """Give the headings by which it is known, as they are compared."""
        return frozenset(map(plain, (self.heading, self.name, *self.also)))


def plain(heading: str) -> str:
    """Write a heading so that only what it says counts."""
    told = heading.partition("(")[0]
    return "".join(sign for sign in told.casefold() if sign.isalnum())


def _one_of(words: Iterable[StrEnum]) -> Promise:
    return _words(_("one of {words}"), words)


def _words(
    sentence: "_StrPromise", words: Iterable[StrEnum], usual: str = ""
) -> Promise:
    """Name the words that a list says, which are the same in whatever language."""
    return format_lazy(sentence, words=", ".join(words), usual=usual)


_PEOPLE: Final = (
    ListColumn(
        name="name",
        heading="Name",
        example="Ada Example",
        also=("Full name", "Member name"),
        is_needed=True,
        most=80,
    ),
    ListColumn(
        name="first_name",
        heading="First name",
        also=("First", "Forename", "Given name", "Vorname", "Prénom"),
        most=80,
        expects=_("in place of the name, with the surname in a column beside it"),
        part_of="name",
    ),
    ListColumn(
        name="surname",
        heading="Surname",
        also=("Last name", "Last", "Family name", "Nachname", "Nom"),
        most=80,
        expects=_("in place of the name, with the first name in a column beside it"),
        part_of="name",
    ),
    ListColumn(
        name="sign_in_name",
        heading="Sign-in name",
        example="ada",
        also=("Login", "User"),
        expects=_("empty: made of the name"),
    ),
    ListColumn(
        name="roles",
        heading="Roles",
        example=Role.MEMBER,
        also=("Role",),
        most=100,
        expects=_words(
            _("of {words}, a comma between them; empty: {usual}"), Role, Role.MEMBER
        ),
    ),
)
_GAUGES: Final = (
    ListColumn(
        name="name", heading="Name", example="Caliper 2", is_needed=True, most=60,
        also=("Gauge",),
    ),
    ListColumn(
        name="instrument",
        heading="Instrument",
        example=Instrument.CALIPER,
        also=("Kind", "Type"),
        is_needed=True,
        expects=_one_of(Instrument),
    ),
    ListColumn(
        name="mode",
        heading="Mode",
        example=GaugeMode.OUTSIDE,
        expects=_words(
            _(
                "one of {words}; empty: {usual}. A gauge of several modes has a row "
                "for each"
            ),
            GaugeMode,
            GaugeMode.OUTSIDE,
        ),
    ),
    ListColumn(
        name="unit",
        heading="Unit",
        example=Unit.MILLIMETRE,
        expects=_words(
            _("one of {words}; empty: {usual}"), filter(None, Unit), Unit.MILLIMETRE
        ),
    ),
    ListColumn(
        name="resolution", heading="Step of its display", example="0.01",
        also=("Resolution", "Step"), is_needed=True,
    ),
    ListColumn(
        name="error", heading="Largest error allowed", example="0.02",
        also=("Maximum permissible error", "MPE", "Error"), is_needed=True,
    ),
    ListColumn(
        name="repeatability", heading="Repeatability", example="",
        expects=_("standard deviation of repeats; empty: none known"),
    ),
    ListColumn(
        name="days", heading="Check every days", example="180",
        also=("Check interval", "Days"), expects=_("whole days; empty: 365"),
    ),
)  # fmt: skip


#: A car says these of itself.


def _geometry() -> tuple[ListColumn, ...]:
    """Give a column for each size of a car that is measured and not worked out."""
    columns = []
    for name in COLUMNS:
        quantity = QUANTITIES[column_owner(name)[0]]
        if quantity.kind is Kind.DERIVED or name in WORDS_OF_CAR:
            continue
        unit = f" ({quantity.unit})" if quantity.unit else ""
        heading = f"{label_of(name)}{unit}"
        columns.append(ListColumn(name=name, heading=heading))
    return tuple(columns)


#: Sizes that nobody has are left out of a list, so none of these is needed.
GEOMETRY: Final = _geometry()
_CARS: Final = (
    ListColumn(
        name="number", heading="Number", example="7", also=("Car number", "No", "Nr"),
        is_needed=True, most=8,
    ),
    ListColumn(
        name="name", heading="Car", example="Example", also=("Car name",),
        is_needed=True, most=60,
    ),
    ListColumn(
        name="owner", heading="Owner", example="Ada Example", also=("Member",),
        is_needed=True, most=80, expects=_("a person's name or sign-in name"),
    ),
    ListColumn(
        name="race_class", heading="Class", example="Saloon", also=("Race class",),
        is_needed=True, most=60, expects=_("a class of a rulebook here"),
    ),
    ListColumn(
        name="layout", heading="Motor", example=Layout.IN_LINE,
        also=("Layout", "Motor layout"), is_needed=True,
        expects=_one_of(Layout),
    ),
    ListColumn(
        name="front_carrier", heading="What carries the front",
        example=FrontCarrier.FRONT_WHEELS, also=("Front",), is_needed=True,
        expects=_one_of(FrontCarrier),
    ),
)  # fmt: skip
#: What may have come of an entry that is past.
PAST_STATES: Final = (EntryState.PASSED, EntryState.SENT_BACK, EntryState.WITHDRAWN)
_RESULTS: Final = (
    ListColumn(
        name="date", heading="Date", example="2026-05-08", also=("Day",),
        is_needed=True, expects=_("a day such as 2026-05-08"),
    ),
    ListColumn(
        name="night", heading="Race night", example="Spring night", also=("Night",),
        is_needed=True, most=80,
    ),
    ListColumn(name="place", heading="Place", example="", also=("Hall",), most=80),
    ListColumn(
        name="car", heading="Car", example="7 Example", also=("Tag", "Car number"),
        is_needed=True, most=80, expects=_("its number, name or tag"),
    ),
    ListColumn(
        name="race_class", heading="Class", example="Saloon", most=60,
        expects=_("empty: the car's own"),
    ),
    ListColumn(
        name="driver", heading="Driver", example="", most=80,
        expects=_("empty: the owner"),
    ),
    ListColumn(
        name="result", heading="Result", example="passed", also=("Decision",),
        is_needed=True, expects=_one_of(PAST_STATES),
    ),
)  # fmt: skip

COLUMNS_OF: Final[Mapping[ListKind, tuple[ListColumn, ...]]] = MappingProxyType(
    {
        ListKind.PEOPLE: _PEOPLE,
        ListKind.GAUGES: _GAUGES,
        ListKind.CARS: _CARS + GEOMETRY,
        ListKind.RESULTS: _RESULTS,
    }
)


def column_named(kind: ListKind, name: str) -> ListColumn | None:
    return next((one for one in COLUMNS_OF[kind] if one.name == name), None)
