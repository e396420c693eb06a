"""Will it fit: the stock against a car of the club, or against typed numbers."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inspection.access import cars_seen_by
from inspection.actions.fit.on_car import may_change_parts
from inspection.actions.fit.reservations import reserve_parts
from inspection.compute.fit import (
    Envelope,
    LargestGear,
    NotMeasuredError,
    TyreFit,
    largest_gear,
)
from inspection.compute.what_if import TyreSizes, TyresNotMeasuredError
from inspection.drawing.gear import describe_gear, draw_gear
from inspection.drawing.sizes.pictures import drawings_of
from inspection.forms.fit.questions import (
    KINDS,
    InHandForm,
    PickCarForm,
    TypedCarForm,
)
from inspection.loaders.cars.search import cars_in_turn, cars_of
from inspection.loaders.fit.cars import load_cars
from inspection.loaders.fit.parts import to_be_had
from inspection.loaders.fit.stock import (
    FitAnswer,
    FitKind,
    FitLine,
    Standing,
    fit_stock,
)
from inspection.loaders.fit.typed import GearInHand
from inspection.models import Car
from inspection.views.fit.gears import unmarked_gear
from inspection.views.fit.missing import HAND_FIELDS, asked_first, missing_of
from inspection.views.fit.pictures import gear_in_place
from inventory.access import allow, open_to_all, visitor
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.compute.stock import GearRole
from inventory.models import Part
from inventory.views.acts import act_of
from inventory.views.addresses import way_back

ROWS_A_PAGE = 20
OWN_SHOWN = 6


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
@allow(Ability.RESERVE_PARTS)
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
    return redirect(way_back(request) or "inspection:will_it_fit")


def _of_a_car(request: HttpRequest) -> HttpResponse:
    person = visitor(request)
    context: dict[str, Any] = {"person": person}
    if person is None:
        return render(request, "inspection/fit/will_it_fit.html", context)
    cars = cars_seen_by(person)
    racing = cars_of(person).filter(retired_at=None)
    own = list(cars_in_turn(racing, today=timezone.localdate())[:OWN_SHOWN])
    context |= {"cars": bool(own) or cars.exists(), "own": own}
    asked = _asked(request, own)
    if asked is None:
        context["form"] = PickCarForm(cars=cars)
        return render(request, "inspection/fit/will_it_fit.html", context)
    form = PickCarForm(asked, cars=cars)
    hand_form, hand = _in_hand(request)
    context |= {"form": form, "hand_form": hand_form}
    kind = _kind(form, hand)
    if kind is None or (hand_form and hand is None):
        return render(request, "inspection/fit/will_it_fit.html", context, status=422)
    (car,) = load_cars(cars.filter(pk=form.cleaned_data["car"].pk))
    answer = fit_stock(
        kind,
        Part.objects.filter(to_be_had(person)),
        car.envelope,
        rules=car.rules,
        in_hand=hand.table if hand else None,
        wanted_teeth=form.cleaned_data["wanted"],
    )
    context |= {"car": car, "edition": car.edition}
    context |= _result(request, asked, answer, hand=hand)
    may_change = may_change_parts(car.car, person)
    context["missing"] = missing_of(
        answer, car=car, hand=hand, query=_hand(request), may_change=may_change
    )
    context["asked"] = asked_first(answer, car=car, hand=hand, may_change=may_change)
    return render(request, "inspection/fit/will_it_fit.html", context)


def _asked(request: HttpRequest, own: Sequence[Car]) -> QueryDict | None:
    """Give the question; of somebody with a car of their own: the gears for it."""
    asked = request.GET.copy()
    if "car" not in asked:
        if not own:
            return None
        asked["car"] = own[0].tag
    asked.setdefault("kind", FitKind.GEAR)
    return asked


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
        "drawings": drawings_of(form.fields),
    }
    if not is_asked:
        return render(request, "inspection/fit/typed_car.html", context)
    kind = _kind(form, hand)
    if kind is None or (hand_form and hand is None):
        return render(request, "inspection/fit/typed_car.html", context, status=422)
    answer = fit_stock(
        kind,
        Part.objects.filter(to_be_had(person)),
        form.typed().envelope(kind),
        rules=(),
        in_hand=hand.table if hand else None,
        wanted_teeth=form.cleaned_data["wanted"],
    )
    context |= _result(request, request.GET, answer, hand=hand)
    context["missing"] = missing_of(answer, car=None, hand=hand, query="")
    context["asked"] = asked_first(answer, car=None, hand=hand)
    return render(request, "inspection/fit/typed_car.html", context)


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
    asked: QueryDict,
    answer: FitAnswer,
    *,
    hand: GearInHand | None,
) -> dict[str, Any]:
    person = visitor(request)
    page = Paginator(answer.order, ROWS_A_PAGE).get_page(request.GET.get("page"))
    shown = np.asarray(page.object_list, dtype=np.int64)
    chosen = answer.row_of(request.GET.get("chosen", ""))
    if not len(chosen):
        # The gear in the hand, else the best.
        chosen = np.zeros(1, np.int64) if hand and len(answer) else shown[:1]
    lines = answer.lines(np.concatenate([chosen, shown]))
    picked = lines[0] if len(chosen) else None
    others = [line for line in lines[len(chosen) :] if line.tags != lines[0].tags]
    may_fit = [one for one in others if one.standing is not Standing.DOES_NOT]
    return {
        "kind": answer.kind,
        "kinds": KINDS,
        "answer": answer,
        "page": page,
        "query": _kept(asked, "page"),
        "choose": _kept(asked, "chosen"),
        "look_for": _kept(asked, "kind", "page", "chosen", "wanted"),
        "lines": lines[len(chosen) :],
        "may_fit": may_fit,
        "do_not": [one for one in others if one.standing is Standing.DOES_NOT],
        # Where nothing fits, why not is the answer.
        "is_open": not may_fit and not answer.count(Standing.FITS),
        "picked": picked,
        "hand": hand,
        "counts": {one.name.lower(): answer.count(one) for one in Standing},
        "nearest": answer.nearest_teeth,
        "largest": _largest_gear(answer),
        "tyre_sizes": _tyre_sizes(answer),
        **_picture(picked, answer.envelope, hand),
        "may_reserve": person is not None and person.may(Ability.RESERVE_PARTS),
        "back": request.get_full_path(),
    }


def _hand(request: HttpRequest) -> str:
    """Give the query that carries the gear in the hand."""
    kept = {name: request.GET[name] for name in HAND_FIELDS if request.GET.get(name)}
    return urlencode(kept)


def _kept(asked: QueryDict, *dropped: str) -> str:
    """Give the query that the links of a result keep."""
    query = asked.copy()
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
