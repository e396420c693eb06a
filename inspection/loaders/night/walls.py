"""What hangs on the wall: blank sheets by class, how each thing is measured."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import QuerySet

from inspection.compute.asking import readings_to_take
from inspection.compute.night import NoticeKind
from inspection.compute.quantities import (
    QUANTITIES,
    FrontCarrier,
    Kind,
    Quantity,
    column_owner,
)
from inspection.loaders.rulebooks.editions import LoadedEdition, load_edition
from inspection.models import Edition, Notice, RaceClass, RaceNight
from inspection.words.quantities import column_name


@dataclass(frozen=True, kw_only=True)
class BlankLine:
    """One thing to read, with room for what was read."""

    label: str
    unit: str
    is_look: bool
    quantity: Quantity


@dataclass(frozen=True, kw_only=True)
class BlankSheet:
    """Everything that a class is measured for, with nothing filled in."""

    race_class: RaceClass
    edition: Edition
    lines: tuple[BlankLine, ...]


@dataclass(frozen=True, kw_only=True)
class HowLine:
    """One quantity that is measured; of which classes, where not of all."""

    quantity: Quantity
    only_of: tuple[RaceClass, ...]


@dataclass(frozen=True, kw_only=True)
class HowSheet:
    """Everything that the classes of one edition are measured for, each once."""

    edition: Edition
    classes: tuple[RaceClass, ...]
    lines: tuple[HowLine, ...]


def how_sheets_of_the_club() -> list[HowSheet]:
    """Say what is measured, on a sheet for each rulebook's newest edition."""
    by_edition: dict[int, list[BlankSheet]] = {}
    for sheet in blank_sheets_of_the_club():
        by_edition.setdefault(sheet.edition.pk, []).append(sheet)
    return [_how(sheets) for sheets in by_edition.values()]


def _how(sheets: list[BlankSheet]) -> HowSheet:
    asked: dict[str, list[RaceClass]] = {}
    for sheet in sheets:
        for key in dict.fromkeys(line.quantity.key for line in sheet.lines):
            asked.setdefault(key, []).append(sheet.race_class)
    classes = tuple(sheet.race_class for sheet in sheets)
    lines = [
        HowLine(
            quantity=QUANTITIES[key],
            only_of=() if len(of) == len(classes) else tuple(of),
        )
        for key, of in asked.items()
    ]
    lines.sort(key=lambda line: line.quantity.handling)
    return HowSheet(edition=sheets[0].edition, classes=classes, lines=tuple(lines))


def blank_sheets(night: RaceNight) -> list[BlankSheet]:
    """Make a blank measuring sheet for each class of a night, by its edition."""
    named = night.classes.select_related("race_class", "edition__rulebook")
    loaded: dict[int, LoadedEdition] = {}
    return [
        _blank(one.race_class, one.edition, loaded)
        for one in named.order_by("race_class__name")
    ]


def blank_sheets_of_the_club() -> list[BlankSheet]:
    """Make one for each class by its newest published edition."""
    newest: dict[int, Edition] = {}
    published = Edition.objects.published().select_related("rulebook")
    for edition in published.order_by("number"):
        newest[edition.rulebook_id] = edition
    loaded: dict[int, LoadedEdition] = {}
    return [
        _blank(one, newest[one.rulebook_id], loaded)
        for one in RaceClass.objects.order_by("name")
        if one.rulebook_id in newest
    ]


def _blank(
    race_class: RaceClass, edition: Edition, loaded: dict[int, LoadedEdition]
) -> BlankSheet:
    # Classes of one rulebook race by one edition: it is read once.
    if edition.pk not in loaded:
        loaded[edition.pk] = load_edition(edition)
    rules = loaded[edition.pk].rules
    keys = [
        rule.quantity.key
        for rule in rules
        if not rule.class_ids or race_class.pk in rule.class_ids
    ]
    return BlankSheet(race_class=race_class, edition=edition, lines=tuple(_lines(keys)))


def _lines(keys: list[str]) -> Iterator[BlankLine]:
    """Give what is asked of a car of either front, in the order of the hands."""
    asked: dict[str, None] = {}
    for carrier in FrontCarrier:
        to_take = readings_to_take(keys, front_carrier=carrier)
        asked |= dict.fromkeys([*to_take.tonight, *to_take.stored])
    for column in sorted(asked, key=lambda one: _row(one).handling):
        row = _row(column)
        yield BlankLine(
            label=column_name(column),
            unit=str(row.unit.value),
            is_look=row.kind is Kind.LOOKED_AT,
            quantity=row,
        )


def _row(column: str) -> Quantity:
    return QUANTITIES[column_owner(column)[0]]


def notices_now(kind: NoticeKind = NoticeKind.NOTICE) -> QuerySet[Notice]:
    """Give what hangs on the wall, the newest first."""
    return Notice.objects.hanging().filter(kind=kind).select_related("by")
