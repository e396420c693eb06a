"""What of a car is known and what is not, by the questions that it would answer."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.translation import gettext as _

from inspection.compute.asking import readings_to_take
from inspection.compute.fit import (
    OF_THE_CAR,
    Need,
    NeedKind,
    Unlock,
    needs_of,
)
from inspection.compute.quantities import (
    QUANTITIES,
    Kind,
    column_owner,
)
from inspection.loaders.fit.cars import CarNow
from inspection.loaders.fit.parts import fact_column
from inspection.models import RoomSize
from inspection.words.quantities import column_name, how_taken
from inspection.words.rooms import room_how, room_name
from inventory.compute.numbers import format_value, from_millionths
from inventory.compute.stock import KINDS, PartKind, PartQuantity
from inventory.words.enumerations import word_of

_UNITS: Final = {
    size.quantity: size.unit for kind in KINDS.values() for size in kind.sizes
}


@dataclass(frozen=True, kw_only=True)
class Known:
    """One thing to be known of a car: what it is, and what is known of it."""

    need: Need
    label: str
    how: str
    text: str
    unlocks: int

    @property
    def is_known(self) -> bool:
        """Whether there is a value."""
        return bool(self.text)

    @property
    def is_typed(self) -> bool:
        """Whether it is typed as it stands; else it is a part's."""
        return self.need.kind is not NeedKind.PART


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question of a car, with what it rests on that stands in none before."""

    title: str
    sizes: tuple[Known, ...]
    total: int
    known: int
    above: int

    @property
    def is_answered(self) -> bool:
        """Whether nothing is missing."""
        return self.known == self.total


def questions_of(car: CarNow) -> list[Question]:
    """
    Give the questions of a car, those first that least is missing for.

    A size that several rest on stands in the first; within one the size comes first
    that most questions wait for.
    """
    unlocks = [*_of_fit(car), *_of_the_rules(car)]
    room = {
        row.size: row.text for row in RoomSize.objects.current().filter(car=car.car)
    }
    texts = {need: _text(need, car, room) for one in unlocks for need in one.needs}
    waiting = Counter(need for one in unlocks for need in one.needs if not texts[need])

    def turn(one: Unlock) -> tuple[bool, float]:
        missing = sum(not texts[need] for need in one.needs)
        return missing == 0, missing / max(len(one.checks), 1)

    seen: set[Need] = set()
    questions = []
    for one in sorted(unlocks, key=turn):
        fresh = [need for need in one.needs if need not in seen]
        seen |= set(fresh)
        questions.append(
            Question(
                title=one.title,
                sizes=tuple(
                    _known(need, texts[need], waiting[need])
                    for need in sorted(fresh, key=lambda need: -waiting[need])
                ),
                total=len(one.needs),
                known=sum(bool(texts[need]) for need in one.needs),
                above=len(one.needs) - len(fresh),
            )
        )
    return questions


def typed_needs(questions: Iterable[Question]) -> list[Known]:
    """Give what of the questions is typed: sizes of the car and its room."""
    return [one for each in questions for one in each.sizes if one.is_typed]


def _of_fit(car: CarNow) -> tuple[Unlock, ...]:
    return needs_of(car.car.layout, car.car.front_carrier)


def _of_the_rules(car: CarNow) -> list[Unlock]:
    if car.edition is None:
        return []
    asked = readings_to_take(
        [rule.quantity.key for rule in car.edition.rules],
        front_carrier=car.car.front_carrier,
        most_tonight=0,
    )
    columns = (*asked.declared, *asked.stored, *asked.tonight)
    return [
        Unlock(
            title=_("The rules of %(edition)s") % {"edition": car.edition.name},
            checks=(),
            needs=tuple(
                Need(kind=NeedKind.COLUMN, name=column)
                for column in dict.fromkeys(columns)
                if column not in OF_THE_CAR and not _is_looked_at(column)
            ),
        )
    ]


def _is_looked_at(column: str) -> bool:
    return QUANTITIES[column_owner(column)[0]].kind is Kind.LOOKED_AT


def _known(need: Need, text: str, waiting: int) -> Known:
    label, how = _words(need)
    return Known(need=need, label=label, how=how, text=text, unlocks=waiting)


def _words(need: Need) -> tuple[str, str]:
    match need.kind:
        case NeedKind.COLUMN:
            quantity = QUANTITIES[column_owner(need.name)[0]]
            return column_name(need.name), how_taken(quantity)
        case NeedKind.ROOM:
            return room_name(need.name), room_how(need.name)
        case NeedKind.PART:
            name = need.name.replace("_name", "").replace("_", " ")
            filled_in = {"part": word_of(need.position or ""), "size": word_of(name)}
            return (_("%(part)s: %(size)s") % filled_in).capitalize(), ""


def _text(need: Need, car: CarNow, room: dict[str, str]) -> str:
    match need.kind:
        case NeedKind.COLUMN:
            value = car.values.get(need.name)
            return value.text if value else ""
        case NeedKind.ROOM:
            return room.get(need.name, "")
        case NeedKind.PART:
            return _text_of_part(need, car)


def _text_of_part(need: Need, car: CarNow) -> str:
    rows = car.fitted.get(need.position, ()) if need.position else ()
    for row in rows:
        if row["quantity"] == need.name:
            return _shown(PartQuantity(need.name), from_millionths(row["value"]))
    for kind in (PartKind.GEAR, PartKind.MOTOR):
        names = {fact.name for fact in KINDS[kind].fact_list}
        if need.name in names and rows:
            return str(rows[0][fact_column(kind, need.name)] or "")
    return ""


def _shown(quantity: PartQuantity, value: float) -> str:
    # Hundredths as on a caliper, and what a micrometer read beyond them.
    read = Decimal(f"{value:g}").as_tuple().exponent
    unit = _UNITS[quantity]
    return format_value(value, decimals=max(2, -int(read)), unit=unit)
