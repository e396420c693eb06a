"""Addresses of cars: by the tag; one that was made of a number leads on to it."""

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Final, cast

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import ResolverMatch, reverse

from inspection.access import cars_seen_by
from inspection.loaders.cars.addresses import cars_called
from inventory.access import signed_in
from inventory.compute.errors import ComputeError
from inventory.compute.stock import read_tag

#: A prefix, at least four signs of a number, a check sign.
_LEAST_SIGNS: Final = 6

View = Callable[..., HttpResponse]


def at_its_tag(view: View) -> View:
    """Answer at a car's tag alone; send whoever comes by its number there."""

    @wraps(view)
    def led(request: HttpRequest, tag: str, **rest: str) -> HttpResponse:
        if _is_as_printed(tag):
            return view(request, tag, **rest)
        return _lead_on(request, tag, rest)

    return led


def _is_as_printed(text: str) -> bool:
    try:
        return len(text) >= _LEAST_SIGNS and read_tag(text) == text
    except ComputeError:
        return False


def _lead_on(request: HttpRequest, text: str, rest: Mapping[str, str]) -> HttpResponse:
    cars = cars_called(cars_seen_by(signed_in(request)), text)
    if not cars:
        msg = f"There is no car {text} for you to see."
        raise Http404(msg)
    name = cast("ResolverMatch", request.resolver_match).view_name
    query = f"?{request.GET.urlencode()}" if request.GET else ""
    car_links = [
        (car, reverse(name, kwargs={"tag": car.tag, **rest}) + query) for car in cars
    ]
    if len(car_links) == 1:
        return redirect(car_links[0][1])
    context = {"number": text, "cars": car_links}
    return render(request, "inspection/cars/which_car.html", context, status=404)
