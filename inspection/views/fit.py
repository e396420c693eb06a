"""Will it fit: the stock against a car of the club, or against typed numbers."""

from typing import Any

import numpy as np
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inspection.access import cars_seen_by
from inspection.actions.reservations import reserve_parts
from inspection.compute.fit import (
    Envelope,
    LargestGear,
    NotMeasuredError,
    TyreFit,
    largest_gear,
)
from inspection.compute.legality import TyresNotMeasuredError
from inspection.compute.tyre_sizes import TyreSizes
from inspection.drawing.gear import describe_gear, draw_gear
from inspection.forms.fit import InHandForm, PickCarForm, TypedCarForm
from inspection.loaders.fit import FitAnswer, FitKind, FitLine, Standing, fit_stock
from inspection.loaders.fit_cars import load_cars
from inspection.loaders.fit_parts import to_be_had
from inspection.loaders.fit_typed import GearInHand
from inspection.views.fit_pictures import gear_in_place
from inspection.views.gears import unmarked_gear
from inventory.access import RESERVERS, allow, open_to_all, visitor
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import GearRole
from inventory.models import Part, Person
from inventory.views.acts import act_of

ROWS_A_PAGE = 20


@require_GET
@open_to_all
def will_it_fit(request: HttpRequest, way: str = "") -> HttpResponse:
    """Answer one of the ways in: a car, typed numbers, a gear in the hand."""
    match way:
        case "":
            return _of_a_car(request)
        case "numbers":
            return _of_numbers(request)
        case "unmarked-gear":
            return unmarked_gear(request)
        case _:
            msg = f"There is no way “{way}” into this page."
            raise Http404(msg)


@require_POST
@allow(RESERVERS)
def reserve(request: HttpRequest) -> HttpResponse:
    """Reserve what fits, and go back to where it was found."""
    tags = request.POST.get("tags", "").split("+")
    try:
        parts = reserve_parts([tag for tag in tags if tag], act=act_of(request))
    except RefusedError as refusal:
        messages.error(
            request,
            _("Not reserved. %(why)s") % {"why": refusal.sentence},
        )
    else:
        names = ", ".join(part.tag for part in parts)
        messages.success(request, _("Reserved for you: %(tags)s.") % {"tags": names})
    return redirect(_way_back(request))


def _way_back(request: HttpRequest) -> str:
    back = request.POST.get("back", "")
    hosts = {request.get_host()}
    if url_has_allowed_host_and_scheme(back, hosts, require_https=request.is_secure()):
        return back
    return reverse("inspection:will_it_fit")


def _of_a_car(request: HttpRequest) -> HttpResponse:
    person = visitor(request)
    cars = [] if person is None else list(cars_seen_by(person))
    context: dict[str, Any] = {"person": person, "cars": cars}
    if person is None or "car" not in request.GET:
        context["form"] = PickCarForm(cars=cars)
        return render(request, "inspection/will_it_fit.html", context)
    form = PickCarForm(request.GET, cars=cars)
    hand_form, hand = _in_hand(request)
    context |= {"form": form, "hand_form": hand_form}
    kind = _kind(form, hand)
    if kind is None or (hand_form and hand is None):
        return render(request, "inspection/will_it_fit.html", context, status=422)
    (car,) = load_cars(cars_seen_by(person).filter(number=form.cleaned_data["car"]))
    answer = fit_stock(
        kind,
        Part.objects.filter(to_be_had(person)),
        car.envelope,
        rules=car.rules,
        in_hand=hand.table if hand else None,
    )
    context |= {"car": car, "edition": car.edition}
    context |= _result(request, answer, hand=hand, person=person)
    return render(request, "inspection/will_it_fit.html", context)


def _of_numbers(request: HttpRequest) -> HttpResponse:
    person = visitor(request)
    is_asked = "tyre" in request.GET
    form = TypedCarForm(request.GET if is_asked else None)
    hand_form, hand = _in_hand(request) if is_asked else (None, None)
    # What was said of a gear on the page before is still there.
    context: dict[str, Any] = {
        "person": person,
        "form": form,
        "hand_form": hand_form or InHandForm(initial=request.GET.dict()),
    }
    if not is_asked:
        return render(request, "inspection/typed_car.html", context)
    kind = _kind(form, hand)
    if kind is None or (hand_form and hand is None):
        return render(request, "inspection/typed_car.html", context, status=422)
    answer = fit_stock(
        kind,
        Part.objects.filter(to_be_had(person)),
        form.typed().envelope(kind),
        rules=(),
        in_hand=hand.table if hand else None,
    )
    context |= _result(request, answer, hand=hand, person=person)
    return render(request, "inspection/typed_car.html", context)


def _kind(form: PickCarForm | TypedCarForm, hand: GearInHand | None) -> FitKind | None:
    """Give what is looked for; nothing where the form is wrong."""
    if not form.is_valid():
        return None
    if hand is not None:
        return FitKind.PINION if hand.role is GearRole.PINION else FitKind.GEAR
    return FitKind(form.cleaned_data["kind"])


def _in_hand(request: HttpRequest) -> tuple[InHandForm | None, GearInHand | None]:
    """Read the gear that somebody holds, where one is described."""
    if not request.GET.get("teeth") and not request.GET.get("over"):
        return None, None
    form = InHandForm(request.GET)
    return form, form.in_hand() if form.is_valid() else None


def _result(
    request: HttpRequest,
    answer: FitAnswer,
    *,
    hand: GearInHand | None,
    person: Person | None,
) -> dict[str, Any]:
    page = Paginator(answer.order, ROWS_A_PAGE).get_page(request.GET.get("page"))
    shown = np.asarray(page.object_list, dtype=np.int64)
    chosen = answer.row_of(request.GET.get("chosen", ""))
    if not len(chosen):
        # The gear in the hand, else the best.
        chosen = np.zeros(1, np.int64) if hand and len(answer) else shown[:1]
    lines = answer.lines(np.concatenate([chosen, shown]))
    picked = lines[0] if len(chosen) else None
    return {
        "kind": answer.kind,
        "answer": answer,
        "page": page,
        "query": _kept(request, "page"),
        "choose": _kept(request, "chosen"),
        "lines": lines[len(chosen) :],
        "picked": picked,
        "hand": hand,
        "counts": {one.name.lower(): answer.count(one) for one in Standing},
        "to_measure": answer.fit.to_measure,
        "largest": _largest_gear(answer),
        "tyre_sizes": _tyre_sizes(answer),
        **_picture(picked, answer.envelope, hand),
        "may_reserve": person is not None and person.has_role(*RESERVERS),
        "back": request.get_full_path(),
    }


def _kept(request: HttpRequest, *dropped: str) -> str:
    """Give the query that the links of a result keep."""
    query = request.GET.copy()
    for name in dropped:
        query.pop(name, None)
    return f"{query.urlencode()}&"


def _largest_gear(answer: FitAnswer) -> LargestGear | None:
    if answer.kind is not FitKind.GEAR:
        return None
    try:
        return largest_gear(answer.envelope)
    except NotMeasuredError:
        return None


def _tyre_sizes(answer: FitAnswer) -> TyreSizes | None:
    if not isinstance(answer.fit, TyreFit):
        return None
    try:
        return answer.fit.sizes
    except TyresNotMeasuredError:
        return None


def _picture(
    line: FitLine | None, envelope: Envelope, hand: GearInHand | None
) -> dict[str, Any]:
    if line is None:
        return {}
    if line.parts:
        gear = getattr(line.parts[0], "gear", None)
        teeth = gear.teeth if gear else None
    else:
        teeth = hand.teeth if hand else None
    place = gear_in_place(line, teeth, envelope)
    if place is None:
        return {}
    return {
        "picture": mark_safe(draw_gear(place)),  # noqa: S308
        "picture_words": describe_gear(place),
    }
