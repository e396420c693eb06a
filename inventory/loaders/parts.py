"""Parts as lists and pages show them: their main size beside them, in one query."""

from dataclasses import dataclass

from django.db.models import BigIntegerField, OuterRef, Q, QuerySet, Subquery

from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.stock import PartKind, PartQuantity, PartState
from inventory.compute.units import Unit, format_value
from inventory.models import Part, PartEstimate, Person

#: The size by which a part of each kind is known.
MAIN_QUANTITY = {
    PartKind.TYRE: PartQuantity.TYRE_DIAMETER,
    PartKind.GEAR: PartQuantity.GEAR_DIAMETER,
    PartKind.MOTOR: PartQuantity.MOTOR_SPEED,
}


@dataclass(frozen=True, kw_only=True)
class PartSearch:
    """What a search asks; empty asks nothing.  Sizes in millionths of the unit."""

    words: str = ""
    kind: str = ""
    state: str = ""
    drawer: str = ""
    compound: str = ""
    teeth: int | None = None
    smallest: int | None = None
    largest: int | None = None
    held_by: Person | None = None


def find_parts(search: PartSearch) -> QuerySet[Part]:
    """Find parts, with what a row shows of them; retired ones only when asked."""
    size = PartEstimate.objects.current().filter(
        part=OuterRef("pk"), quantity__in=MAIN_QUANTITY.values()
    )
    parts = (
        Part.objects.select_related("tyre", "gear", "motor", "owner", "holder")
        .annotate(
            size=Subquery(size.values("value")[:1], output_field=BigIntegerField())
        )
        .order_by("tag")
    )
    return parts.filter(_wanted(search))


def _wanted(search: PartSearch) -> Q:
    wanted = Q()
    for word in search.words.split():
        wanted &= (
            Q(tag__istartswith=word)
            | Q(name__icontains=word)
            | Q(drawer__iexact=word)
            | Q(tyre__compound__icontains=word)
            | Q(gear__family__icontains=word)
            | Q(motor__family__icontains=word)
        )
    exact = {
        "kind": search.kind,
        "state": search.state,
        "drawer__iexact": search.drawer,
        "tyre__compound__iexact": search.compound,
        "gear__teeth": search.teeth,
        "size__gte": search.smallest,
        "size__lte": search.largest,
        "holder": search.held_by,
    }
    wanted &= Q(
        **{key: value for key, value in exact.items() if value not in {"", None}}
    )
    return wanted if search.state else wanted & ~Q(state=PartState.RETIRED)


def size_text(part: Part) -> str:
    """Write a found part's main size, or nothing."""
    size: int | None = vars(part).get("size")
    if size is None:
        return ""
    quantity = MAIN_QUANTITY[PartKind(part.kind)]
    return quantity_text(quantity, size)


def quantity_text(quantity: PartQuantity, millionths: int) -> str:
    """Write a stored value of a quantity with its unit."""
    unit = PART_SCALES[quantity].unit
    decimals = 0 if unit in {Unit.RPM, Unit.SHORE_A} else 2
    return format_value(millionths / 1e6, decimals=decimals, unit=unit)


def facts_text(part: Part) -> str:
    """Say what kind of part it is, in a few words."""
    match PartKind(part.kind):
        case PartKind.TYRE:
            words = [part.tyre.compound, part.tyre.width_code, part.tyre.wheel]
        case PartKind.GEAR:
            teeth = f"{part.gear.teeth} teeth"
            words = [part.gear.role, teeth, part.gear.pitch_name, part.gear.family]
            if part.gear.cut_for_teeth:
                words.append(f"for a pinion of {part.gear.cut_for_teeth}")
        case PartKind.MOTOR:
            words = [part.motor.family]
    return ", ".join(word for word in words if word)
