"""A practice check that leaves no record, and a night's dry run of every car."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.access import cars_seen_by
from inspection.forms.cars.practice import PracticeForm
from inspection.loaders.cars.practice import columns_to_type, dry_run, practise
from inspection.loaders.fit.cars import load_cars
from inspection.models import NightClass
from inspection.views.block.found_rules import FoundRule
from inspection.views.cars.addresses import at_its_tag
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.views.acts import form_page


@require_GET
@allow(Ability.LOOK)
@at_its_tag
def practice(request: HttpRequest, tag: str) -> HttpResponse:
    """Say what the rules would say of a car; the address has all that was typed."""
    loaded = load_cars(cars_seen_by(signed_in(request)).filter(tag=tag))
    if not loaded:
        msg = f"There is no car {tag} for you to see."
        raise Http404(msg)
    car = loaded[0]
    form = PracticeForm(
        request.GET or None, columns=columns_to_type(car), values=dict(car.values)
    )
    typed = form.typed if form.is_valid() else {}
    rules = [
        FoundRule(found=one, went_under=one.went_under, wants_second_person=False)
        for one in practise(car, typed)
    ]
    return form_page(
        request,
        form,
        "inspection/cars/practice.html",
        {
            "car": car.car,
            "edition": car.edition,
            "rules": rules,
            "failing": [rule for rule in rules if rule.is_failing],
            "typed": typed,
        },
    )


@require_GET
@allow(Ability.INSPECT_CARS)
def dry(request: HttpRequest, night_id: int) -> HttpResponse:
    """Hold every car of a night's classes against its rulebooks, before the night."""
    named = NightClass.objects.filter(night=night_id)
    classes = list(named.select_related("night", "edition__rulebook"))
    if not classes:
        msg = "There is no such night."
        raise Http404(msg)
    night = classes[0].night
    return render(
        request,
        "inspection/night/dry_run.html",
        {"night": night, "cars": dry_run(night, classes)},
    )
