"""What is missing for a fit, each a link to the field where it is entered."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.fit import (
    Lacking,
    asking_order,
    lacking,
)
from inspection.compute.night import PartPosition
from inspection.compute.quantities import QUANTITIES, column_owner
from inspection.drawing.sizes.pictures import drawings_of
from inspection.drawing.where_to_measure import draw_where_to_measure
from inspection.forms.fit.questions import InHandForm
from inspection.loaders.fit.cars import CarNow
from inspection.loaders.fit.stock import FitAnswer
from inspection.loaders.fit.typed import GearInHand
from inspection.words.quantities import column_name, how_taken
from inspection.words.rooms import room_how, room_name
from inventory.compute.numbers import Unit
from inventory.words.enumerations import word_of

#: So many pictures of where to measure stand over the fields.
_PICTURES: Final = 2
#: The fields of a typed car, by what they say.
_TYPED: Final = {
    "car.axle_diameter": "axle",
    "car.tyre_diameter_rear_left": "tyre",
    "car.tyre_diameter_rear_right": "tyre",
    "car.axle_height_rear_left": "axle_height",
    "car.axle_height_rear_right": "axle_height",
    "car.can_height": "can_height",
    "car.motor_lift_rear": "motor_lift",
    "car.teeth_gear": "gear_teeth",
    "car.teeth_pinion": "pinion_teeth",
    "car.gear_diameter": "gear_mm",
    "gear.teeth": "gear_teeth",
    "gear.outside_diameter_mm": "gear_mm",
    "pinion.teeth": "pinion_teeth",
    "pinion.module_mm": "pinion_pitch",
    "pinion.face_width_mm": "pinion_face",
    "motor.shaft_diameter_mm": "shaft",
    "motor.shaft_length_mm": "shaft_length",
    "motor.can_height_mm": "can_height",
}
#: The fields of a gear in the hand.
_IN_HAND: Final = {
    "outside_diameter_mm": "over",
    "module_mm": "pitch",
    "bore_mm": "bore",
    "hub_width_mm": "hub",
    "length_mm": "hub",
    "face_width_mm": "face",
    "crown_depth_mm": "depth",
}
#: The parts that sit on a car, and by what their sizes are entered.
_ON_CAR: Final = {
    "gear": PartPosition.GEAR,
    "pinion": PartPosition.PINION,
    "motor": PartPosition.MOTOR,
}
_SIZES: Final = {
    "outside_diameter_mm": "gear_diameter",
    "module_mm": "pitch_name",
    "length_mm": "hub_width",
}
_WORDS: Final = {
    "outside_diameter_mm": "size over the teeth",
    "module_mm": "pitch",
    "length_mm": "length",
}


@dataclass(frozen=True, kw_only=True)
class Missing:
    """One size that is missing, and where it is entered; nowhere: no address."""

    label: str
    to: str = ""


@dataclass(frozen=True, kw_only=True)
class SizeAsked:
    """One size to be measured next: where, and the field that takes it."""

    label: str
    to: str
    field: str
    unit: str
    how: str


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Sizes to be measured together, and how many parts can be judged then."""

    sizes: tuple[SizeAsked, ...]
    rows: int
    pictures: list[SafeString]

    @property
    def are_typed(self) -> bool:
        """Whether all of them can be typed in place."""
        return all(size.field for size in self.sizes)


def missing_of(
    answer: FitAnswer,
    *,
    car: CarNow | None,
    hand: GearInHand | None,
    query: str,
    may_change: bool = True,
) -> list[Missing]:
    """
    Name what is missing, each once, less what was typed; `query` keeps the gear.

    The sizes of a part on the car lead to it for whoever ``may_change`` what is on it.
    """
    table, checks = answer.table, answer.fit.table
    if hand is not None:
        # The gear in the hand is what was asked about, and stands first.
        alone = answer.of_first()
        table, checks = alone.table, alone.fit.table
    missing = [
        _of_part(one, hand=hand, query=query, car=car)
        if one.is_of_the_part
        else _of_car(one, car, may_change=may_change)
        for one in lacking(table, answer.envelope, checks)
    ]
    return list({one.label: one for one in missing}.values())


def asked_first(
    answer: FitAnswer,
    *,
    car: CarNow | None,
    hand: GearInHand | None,
    may_change: bool = True,
) -> list[Asked]:
    """Say what of the car to measure first, and how many parts that decides."""
    if hand is not None:
        answer = answer.of_first()
    groups = asking_order(answer.table, answer.envelope, answer.fit.table)
    return [
        Asked(
            sizes=tuple(
                _size_asked(name, car, may_change=may_change) for name in names
            ),
            rows=group.rows,
            pictures=_pictures(group.names) if place == 0 else [],
        )
        for place, group in enumerate(groups)
        for names in [group.names]
    ]


def _size_asked(name: str, car: CarNow | None, *, may_change: bool) -> SizeAsked:
    owner, _dot, what = name.partition(".")
    lacking_one = Lacking(name=name, is_of_the_part=False, rows=0)
    missing = _of_car(lacking_one, car, may_change=may_change)
    is_typed = owner in {"car", "room"} and car is not None and may_change
    how, unit = "", str(Unit.MILLIMETRE)
    if owner == "room":
        how = room_how(what)
    elif owner == "car":
        quantity = QUANTITIES[column_owner(what)[0]]
        how, unit = (
            how_taken(quantity),
            "" if quantity.unit == "1" else str(quantity.unit),
        )
    return SizeAsked(
        label=missing.label,
        to=missing.to,
        field=what if is_typed else "",
        unit=unit,
        how=how[:1].upper() + how[1:],
    )


def _pictures(names: Sequence[str]) -> list[SafeString]:
    """Draw where some sizes are: room for parts in one, each of a rule in its own."""
    whose = [name.partition(".") for name in names]
    room = [what for owner, _dot, what in whose if owner == "room"]
    columns = [what for owner, _dot, what in whose if owner == "car"][:_PICTURES]
    drawn = [
        draw_where_to_measure(
            QUANTITIES[column_owner(column)[0]].picture,
            column=column,
            label=column_name(column),
        )
        for column in columns
    ]
    return [
        *drawings_of(room, lit=room),
        *(mark_safe(one) for one in drawn),  # noqa: S308
    ]


def _of_car(one: Lacking, car: CarNow | None, *, may_change: bool) -> Missing:
    owner, _dot, what = one.name.partition(".")
    if owner == "room":
        label = room_name(what)
    elif owner == "car":
        label = column_name(what)
    else:
        label = _("%(part)s on the car: %(size)s") % {
            "part": word_of(owner).capitalize(),
            "size": _size(what),
        }
    if car is None:
        field = what if owner == "room" else _TYPED.get(one.name, "")
        return Missing(label=label, to=f"#id_{field}" if field else "")
    if owner in _ON_CAR:
        place = _ON_CAR[owner]
        # Teeth are a size of the car as well as a fact of the part.
        if what == "teeth":
            return Missing(label=label, to=_sizes(car, f"id_teeth_{owner}"))
        if not may_change:
            return Missing(label=label)
        to = reverse("inspection:part_sizes", args=[car.car.tag, place])
        name = _SIZES.get(what, what.removesuffix("_mm"))
        return Missing(label=label, to=f"{to}#{name}")
    return Missing(label=label, to=_sizes(car, f"id_{what}"))


def _sizes(car: CarNow, field: str) -> str:
    return f"{reverse('inspection:sizes', args=[car.car.tag])}#{field}"


def _of_part(
    one: Lacking, *, hand: GearInHand | None, query: str, car: CarNow | None
) -> Missing:
    what = one.name.partition(".")[2]
    if hand is None:
        label = ngettext(
            "%(size)s of %(n)d part", "%(size)s of %(n)d parts", one.rows
        ) % {"size": _size(what).capitalize(), "n": one.rows}
        return Missing(label=label)
    label = _("%(size)s of the gear in your hand") % {"size": _size(what).capitalize()}
    field = _IN_HAND.get(what, "")
    if not field:
        return Missing(label=label)
    page = reverse("inspection:will_it_fit", args=["unmarked-gear"]) if car else ""
    return Missing(
        label=label, to=f"{page}?{query}#id_{field}" if page else f"#id_{field}"
    )


def _size(what: str) -> str:
    return word_of(_WORDS.get(what, what.removesuffix("_mm").replace("_", " ")))


#: Fields of the gear in the hand that a page's query carries.
HAND_FIELDS: Final = tuple(InHandForm.base_fields)
