"""What sits on a car, place by place, and what is to be had for a place."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Case, Q, QuerySet, Value, When

from inspection.compute.night import (
    KIND_OF_POSITION,
    ROLES_OF_POSITION,
    TYRES_OF_AXLE,
    Axle,
    PartPosition,
)
from inspection.models import Car, FittedPart
from inventory.compute.searches import words_of
from inventory.compute.stock import PartKind, PartState, tag_in
from inventory.loaders.parts import PartSearch, find_parts, size_text
from inventory.models import Part, PartSet, Person, SetMember


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place on a car, and what of the stock sits there."""

    position: PartPosition
    fitted: FittedPart | None = None
    part: Part | None = None
    size: str = ""

    @property
    def slug(self) -> str:
        """Names it in an address."""
        return slug_of(self.position)

    @property
    def kind(self) -> PartKind:
        """What goes there."""
        return KIND_OF_POSITION[self.position]


@dataclass(frozen=True, kw_only=True)
class TyresOfAxle:
    """The places of an axle's two tyres."""

    axle: Axle
    places: tuple[Place, ...]

    @property
    def is_full(self) -> bool:
        """Whether both are there."""
        return all(place.part is not None for place in self.places)


def slug_of(position: PartPosition) -> str:
    """Write a place for an address."""
    return position.replace(" ", "-")


def position_of(slug: str) -> PartPosition | None:
    """Read a place out of an address; nothing where it is none."""
    return {slug_of(one): one for one in PartPosition}.get(slug)


def load_places(car: Car) -> dict[PartPosition, Place]:
    """Load every place of a car with what sits there, in two queries."""
    fitted = {
        row.position: row for row in FittedPart.objects.filter(car=car, removed_at=None)
    }
    keys = [row.part_id for row in fitted.values()]
    parts = {part.pk: part for part in find_parts(PartSearch()).filter(pk__in=keys)}
    places = {}
    for position in PartPosition:
        row = fitted.get(position)
        part = parts[row.part_id] if row else None
        places[position] = Place(
            position=position,
            fitted=row,
            part=part,
            size=size_text(part) if part else "",
        )
    return places


def tyres_by_axle(places: dict[PartPosition, Place]) -> list[TyresOfAxle]:
    """Give the tyres of a car axle by axle."""
    return [
        TyresOfAxle(axle=axle, places=tuple(places[one] for one in pair))
        for axle, pair in TYRES_OF_AXLE.items()
    ]


def positions_for(part: Part) -> list[PartPosition]:
    """Give the places that a part goes in."""
    return [
        position
        for position, kind in KIND_OF_POSITION.items()
        if kind == part.kind
        and (
            position not in ROLES_OF_POSITION
            or part.gear.role in ROLES_OF_POSITION[position]
        )
    ]


def parts_for(
    car: Car, position: PartPosition, person: Person, words: str = ""
) -> QuerySet[Part]:
    """Find what is to be had for a place: what is at hand first, then the drawers."""
    kind = KIND_OF_POSITION[position]
    parts = find_parts(PartSearch(words=words, kind=kind)).filter(
        _to_be_had(car, person)
    )
    if position in ROLES_OF_POSITION:
        parts = parts.filter(gear__role__in=ROLES_OF_POSITION[position])
    return parts.order_by(
        Case(
            When(holder__isnull=False, then=Value(0)),
            When(owner__isnull=False, then=Value(1)),
            default=Value(2),
        ),
        "tag",
    )


def pairs_for(car: Car, person: Person, words: str = "") -> QuerySet[PartSet]:
    """Find the pairs of tyres that are to be had for an axle of a car."""
    tyres = Part.objects.filter(_to_be_had(car, person), kind=PartKind.TYRE)
    away = SetMember.objects.exclude(part__in=tyres.values("pk"))
    pairs = PartSet.objects.together().filter(kind=PartKind.TYRE)
    pairs = pairs.filter(tag__startswith=_PAIR).exclude(pk__in=away.values("part_set"))
    for word in words_of(words):
        pairs = pairs.filter(
            Q(tag__istartswith=word)
            | Q(drawer__iexact=word)
            | Q(members__part__tag__istartswith=word)
            | Q(members__part__tyre__compound__icontains=word)
        )
    return pairs.distinct().order_by("tag")


#: A set of two is a pair, and its tag begins so.
_PAIR = "P"
#: SQLite matches no pattern that is much longer than anything there is.
LONGEST_TAG = 40


def pair_called(text: str) -> PartSet | None:
    """Find the pair of a tag that was typed or scanned; nothing where it is none."""
    tag = tag_in(text)
    if len(tag) > LONGEST_TAG:
        return None
    return PartSet.objects.together().filter(tag__iexact=tag).first()


def part_called(text: str) -> Part | None:
    """Find the part of a tag that was typed or scanned; nothing where it is none."""
    tag = tag_in(text)
    if len(tag) > LONGEST_TAG:
        return None
    parts: Iterable[Part] = Part.objects.select_related(
        "gear", "owner", "holder"
    ).filter(tag__iexact=tag)[:2]
    first = list(parts)
    return first[0] if len(first) == 1 else None


def _to_be_had(car: Car, person: Person) -> Q:
    theirs = Q(holder__in=[car.owner_id, person.pk])
    own = Q(owner=None) | Q(owner=car.owner_id) | Q(is_shared=True)
    out = Q(state__in=[PartState.RESERVED, PartState.WITH_MEMBER]) & theirs
    # Who has another's spare in their hands was lent it, shared or not.
    return own & Q(state=PartState.IN_STOCK) | out
