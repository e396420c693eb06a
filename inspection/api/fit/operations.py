"""Will it fit: the same questions as the pages answer; nothing is written."""

from typing import Any

from django.http import Http404

from inspection.access import cars_seen_by
from inspection.api.fit.gives import CarTaking, FitShown, JigShown, UnmarkedShown
from inspection.api.fit.takes import FitAsked, InHandAsked, JigAsked, TypedCarAsked
from inspection.compute.jig import after_soldering, jig_sheet
from inspection.forms.fit.questions import InHandForm, TypedCarForm
from inspection.forms.jig import JigForm
from inspection.loaders.fit.cars import load_cars
from inspection.loaders.fit.cars_for_part import (
    CHECKED_KINDS,
    CarLine,
    cars_taking,
    cars_taking_any,
    identify,
    parts_like,
    table_of_part,
)
from inspection.loaders.fit.parts import to_be_had
from inspection.loaders.fit.stock import FitAnswer, FitKind, Standing, fit_stock
from inventory.api.foundation.operations import Call, reads, reads_all
from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.api.foundation.shapes import form_data
from inventory.api.parts.parts import part_of, refuse_form
from inventory.compute.gears import LEAST_TEETH, MOST_TEETH
from inventory.compute.stock import GearRole
from inventory.models import Part

_SHOWN = 20
_CARS = 50


@reads(FitShown, query=FitAsked)
def fit_of_car(call: Call, tag: str) -> dict[str, Any]:
    """Tell what of the stock fits a car, best first."""
    loaded = load_cars(cars_seen_by(call.person).filter(tag=tag))
    if not loaded:
        msg = f"There is no car {tag} for you to see."
        raise Http404(msg)
    answer = fit_stock(
        FitKind(call.said["kind"]),
        Part.objects.filter(to_be_had(call.person)),
        loaded[0].envelope,
        rules=loaded[0].rules,
        in_hand=None,
        wanted_teeth=_teeth(call.said["wanted"]),
    )
    return _told(answer)


@reads(FitShown, query=TypedCarAsked)
def fit_of_numbers(call: Call) -> dict[str, Any]:
    """Tell what of the stock fits a car of which only numbers are known."""
    form = TypedCarForm(form_data(call.said))
    refuse_form(form)
    kind = FitKind(form.cleaned_data["kind"])
    answer = fit_stock(
        kind,
        Part.objects.filter(to_be_had(call.person)),
        form.typed().envelope(kind),
        rules=(),
        in_hand=None,
        wanted_teeth=form.cleaned_data["wanted"],
    )
    return _told(answer)


@reads_all(CarTaking)
def cars_for_part(call: Call, tag: str) -> list[CarLine]:
    """Tell which of the first fifty cars take a tyre, a gear or a motor."""
    part = part_of(call, tag)
    if part.kind not in CHECKED_KINDS:
        raise ProblemError(409, "not_checked", f"Of a {part.kind} nothing is checked.")
    cars = cars_seen_by(call.person).filter(retired_at=None).order_by("tag")[:_CARS]
    keys = [car.pk for car in cars]
    return cars_taking(
        table_of_part(part), load_cars(cars_seen_by(call.person).filter(pk__in=keys))
    )


@reads(UnmarkedShown, query=InHandAsked)
def unmarked_gear(call: Call) -> dict[str, Any]:
    """Tell what pitch a gear without a mark may have, and which cars take it."""
    form = InHandForm(form_data(call.said))
    refuse_form(form)
    hand = form.in_hand()
    # A crown's size says nothing of its teeth: its pitch is as it is said.
    identified = (
        None
        if hand.role is GearRole.CROWN
        else identify(hand.teeth, hand.outside_diameter_mm, form_u_mm=form.form_u_mm)
    )
    tried = [one.name for one in identified.worth_trying] if identified else [""]
    pitches = [hand.pitch] if hand.pitch else tried
    cars = cars_seen_by(call.person).filter(retired_at=None).order_by("tag")[:_CARS]
    keys = [car.pk for car in cars]
    loaded = load_cars(cars_seen_by(call.person).filter(pk__in=keys))
    return {
        "pitches": identified.shown if identified else (),
        "u_mm": identified.u_mm if identified else float("nan"),
        "parts_like": [part.tag for part in parts_like(hand, call.person)],
        "cars": cars_taking_any(hand, pitches, loaded),
    }


@reads(JigShown, query=JigAsked)
def work_out_jig(call: Call) -> dict[str, Any]:
    """Work out a jig sheet from what is typed."""
    form = JigForm(form_data(call.said))
    refuse_form(form)
    sheet = jig_sheet(form.set_up())
    return {"sheet": sheet, "checks": after_soldering(form.chassis(sheet))}


def _told(answer: FitAnswer) -> dict[str, Any]:
    return {
        "kind": answer.kind,
        "fits": answer.count(Standing.FITS),
        "not_known": answer.count(Standing.NOT_KNOWN),
        "does_not": answer.count(Standing.DOES_NOT),
        "lines": answer.lines(answer.order[:_SHOWN]),
    }


def _teeth(text: str) -> int | None:
    if not text:
        return None
    whole = int(text) if text.isascii() and text.isdecimal() else -1
    if LEAST_TEETH <= whole <= MOST_TEETH:
        return whole
    message = f"“{text}” was typed; {LEAST_TEETH} to {MOST_TEETH} was expected."
    wrong = FieldError(field="wanted", code="teeth_out_of_range", detail=message)
    raise ProblemError.of_errors(422, [wrong])
