"""A protest with all that its page says of it."""

from collections import Counter
from collections.abc import Iterable, Set
from dataclasses import dataclass, field

from django.db.models import OuterRef, Q, QuerySet, Subquery

from inspection.compute.night import USUAL_MINUTES, EntryState, ProtestRuling
from inspection.models import (
    Entry,
    Protest,
    ProtestHearer,
    ProtestSheet,
    ProtestTime,
    Seal,
    Sheet,
)
from inventory.compute.roles import Ability
from inventory.models import FamilyTie, Person


@dataclass(frozen=True, kw_only=True)
class LoadedProtest:
    """A protest, who may not hear it, who does, and on what it was measured."""

    protest: Protest
    concerned: frozenset[int]
    hearer: Person | None
    measured: tuple[ProtestSheet, ...]
    #: It was upheld in the end, and the car stands by the same sheet still.
    is_to_be_checked: bool

    @property
    def is_ruled(self) -> bool:
        return hasattr(self.protest, "ruled")

    def may_be_heard_by(self, person: Person) -> bool:
        """Whether somebody hears it: the one named, or else an unconcerned chief."""
        if self.is_ruled or person.pk in self.concerned:
            return False
        if self.hearer is not None:
            return person.pk == self.hearer.pk
        return person.may(Ability.RULE_ON_SHEETS)


def protests_to_load() -> QuerySet[Protest]:
    """Protests with all that loading one needs."""
    return Protest.objects.select_related(
        "entry__night",
        "entry__car__owner",
        "entry__driver",
        "entry__race_class",
        "sheet__seal",
        "rule__edition__rulebook",
        "by",
        "appeal_of__ruled__by",
        "appeal",
        "ruled__by",
    )


@dataclass(frozen=True, kw_only=True)
class ToHear:
    """A protest that waits for the ruling of whoever was named last to hear it."""

    protest_id: int
    person_id: int
    car_number: str
    rule_number: str


@dataclass(frozen=True, kw_only=True)
class ProtestsNow:
    """How many of each entry wait for a ruling, and what was upheld of which sheet."""

    open_by_entry: Counter[int] = field(default_factory=Counter)
    upheld: Set[tuple[int, int]] = frozenset()
    to_hear: tuple[ToHear, ...] = ()


def load_protests_now(protests: QuerySet[Protest]) -> ProtestsNow:
    """
    Load where some protests stand; one query.

    Upheld in the end, that is: an upheld appeal turns the first ruling.
    """
    named = ProtestHearer.objects.filter(protest=OuterRef("pk")).order_by("-pk")
    rows = list(
        protests.annotate(hearer=Subquery(named.values("person")[:1])).values(
            "pk",
            "entry",
            "sheet",
            "appeal_of",
            "hearer",
            "entry__number",
            "rule__number",
            "ruled__ruling",
            "appeal__ruled__ruling",
        )
    )
    waiting = [row for row in rows if not row["ruled__ruling"]]
    return ProtestsNow(
        open_by_entry=Counter(row["entry"] for row in waiting),
        upheld={
            (row["entry"], row["sheet"])
            for row in rows
            if row["sheet"] is not None and row["appeal_of"] is None
            if (row["ruled__ruling"] == ProtestRuling.UPHELD)
            != (row["appeal__ruled__ruling"] == ProtestRuling.UPHELD)
        },
        to_hear=tuple(
            ToHear(
                protest_id=row["pk"],
                person_id=row["hearer"],
                car_number=row["entry__number"],
                rule_number=row["rule__number"],
            )
            for row in waiting
            if row["hearer"] is not None
        ),
    )


def protests_seen_by(person: Person) -> QuerySet[Protest]:
    """Give the protests that a person may open: all, or those they are part of."""
    if person.may(Ability.SEE_EVERY_CAR):
        return protests_to_load()
    part_of = Q(by=person) | Q(entry__driver=person) | Q(entry__car__owner=person)
    return protests_to_load().filter(part_of | Q(hearers__person=person)).distinct()


def protests_to_hear(person: Person) -> list[ToHear]:
    """Give the protests not ruled yet that a person is the last one named to hear."""
    named = ProtestHearer.objects.filter(person=person, protest__ruled=None)
    waiting = Protest.objects.filter(pk__in=named.values("protest"))
    return heard_by(person, load_protests_now(waiting.order_by("pk")).to_hear)


def heard_by(person: Person, waiting: Iterable[ToHear]) -> list[ToHear]:
    """Keep the protests that one person is to hear."""
    return [one for one in waiting if one.person_id == person.pk]


def load_protest(protest: Protest) -> LoadedProtest:
    """Load who is concerned in a protest and where it stands."""
    entry, first = protest.entry, protest.appeal_of
    protesters = {protest.by_id} | ({first.by_id} if first else set())
    concerned = entry.concerned | FamilyTie.objects.with_family(protesters)
    sealed = Seal.objects.filter(sheet=protest.sheet_id)
    concerned |= set(sealed.values_list("sealed_by", flat=True))
    if first is not None:
        concerned |= {first.ruled.by_id}
    named = protest.hearers.select_related("person").last()
    return LoadedProtest(
        protest=protest,
        concerned=concerned,
        hearer=named.person if named else None,
        measured=tuple(
            ProtestSheet.objects.filter(protest=protest)
            .select_related("sheet__seal", "sheet__void")
            .order_by("pk")
        ),
        is_to_be_checked=_is_to_be_checked(protest),
    )


def _is_to_be_checked(protest: Protest) -> bool:
    entry, first = protest.entry, protest.appeal_of_id or protest.pk
    if protest.sheet_id is None or entry.night.closed_at is not None:
        return False
    if entry.state not in {EntryState.PASSED, EntryState.SENT_BACK}:
        return False
    last = Sheet.objects.filter(entry=entry).order_by("-pk").values("pk")[:1]
    standing = Protest.objects.filter(pk=first, sheet__in=last)
    return bool(load_protests_now(standing).upheld)


def minutes_to_protest(race_class_id: int) -> int:
    """Give how long after a ruling a class may protest."""
    own_time = ProtestTime.objects.filter(race_class=race_class_id).first()
    return own_time.minutes if own_time else USUAL_MINUTES


def may_protest(person: Person, entry: Entry) -> bool:
    """Whether a person is an official, or drives or owns a car of the night."""
    if person.may(Ability.INSPECT_CARS):
        return True
    of_the_night = Entry.objects.filter(night=entry.night_id)
    return of_the_night.filter(Q(driver=person) | Q(car__owner=person)).exists()
