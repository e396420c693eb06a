"""One box for everything: it leads to what a tag is on, or lists what goes by words."""

from typing import Final
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from inspection.access import cars_seen_by, sheets_seen_by
from inspection.forms.search import FindForm
from inspection.loaders.search.codes import Asked, read_asked
from inspection.loaders.search.found import (
    MOST_SHOWN,
    Seen,
    is_of_this_club,
    load_found,
    load_tagged,
)
from inspection.models import Car, Sheet
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.loaders.parts import facts_text
from inventory.models import Part, PartSet, Person

_PAGE: Final = "inspection/search/search.html"


@require_GET
@allow(Ability.LOOK)
def search(request: HttpRequest) -> HttpResponse:
    """Lead on to the one thing that a tag is on, or show what the words are of."""
    form = FindForm(request.GET)
    asked = read_asked(form.text)
    page = {"form": form, "asked": asked, "most": MOST_SHOWN}
    if not asked.words:
        return render(request, _PAGE, page, status=422 if form.errors else 200)
    elsewhere = asked.is_scanned and not _is_here(request, asked)
    if asked.drawer and not elsewhere:
        return redirect(_drawer(asked))
    seen = _seen_by(signed_in(request))
    tagged = load_tagged(asked, seen).all
    if len(tagged) == 1 and not elsewhere:
        return redirect(_address(tagged[0]))
    results = load_found(asked, seen, today=timezone.localdate())
    page |= {
        "found": results,
        "parts": [(part, facts_text(part)) for part in results.parts],
        "elsewhere": asked.host if elsewhere else "",
    }
    return render(request, _PAGE, page)


def _seen_by(person: Person) -> Seen:
    people = Person.objects.all()
    # A spare of somebody's own is found by whoever may open it.
    parts = Part.objects.all()
    return Seen(
        parts=parts if person.may(Ability.FIT_PARTS) else parts.listed_for(person),
        cars=cars_seen_by(person),
        sheets=sheets_seen_by(person, Sheet.objects.all()),
        people=people if person.may(Ability.MANAGE_PEOPLE) else people.none(),
    )


def _is_here(request: HttpRequest, asked: Asked) -> bool:
    """Tell whether a code was printed for this desk, at whichever of its addresses."""
    return asked.host == request.get_host().lower() or is_of_this_club(asked.host)


def _drawer(asked: Asked) -> str:
    return f"{reverse('inventory:parts')}?{urlencode({'q': asked.words})}"


def _address(thing: Part | PartSet | Car | Sheet) -> str:
    """Give the page of one thing."""
    match thing:
        case Part():
            return reverse("inventory:part", args=[thing.tag])
        case PartSet():
            return reverse("inventory:pair", args=[thing.tag])
        case Car():
            return reverse("inspection:car", args=[thing.tag])
        case Sheet():
            return reverse("inspection:sheet", args=[thing.number])
