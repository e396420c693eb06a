"""Trials: an edition on every stored car."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inspection.compute.rulebooks import CarFound
from inspection.forms.rulebooks.trials import ChoiceForm
from inspection.loaders.rulebooks.editions import load_edition
from inspection.loaders.rulebooks.shelf import edition_before
from inspection.loaders.rulebooks.stored_cars import load_stored_cars
from inspection.loaders.rulebooks.trials import Trial, try_edition
from inspection.views.rulebooks.editions import edition_or_404
from inspection.views.rulebooks.rule_words import limits_at
from inventory.access import allow
from inventory.compute.roles import Ability


@require_GET
@allow(Ability.WRITE_RULEBOOKS)
def trial(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Try an edition on every car's last sealed sheet."""
    edition = edition_or_404(edition_id)
    form = ChoiceForm(request.GET, rulebook_id=edition.rulebook_id)
    choice = form.choice()
    before = edition_before(edition)
    tried = try_edition(
        load_edition(edition),
        load_edition(before) if before else None,
        load_stored_cars(choice),
        choice,
    )
    return render(
        request,
        "inspection/rulebooks/trial.html",
        {
            "edition": edition,
            "before": before,
            "form": form,
            "trial": tried,
            "rules": [(one, limits_at(one.rule, choice.stage)) for one in tried.rules],
            "dropped": [(one, limits_at(one, choice.stage)) for one in tried.dropped],
            "table": table_of(tried),
            "query": request.GET.urlencode(),
        },
    )


def table_of(tried: Trial) -> list[dict[str, Any]]:
    """Give how many cars go from which finding to which, a row each, with sums."""
    return [
        {
            "before": before,
            "counts": [tried.counts[before, after] for after in CarFound],
            "sum": tried.before(before),
        }
        for before in CarFound
    ] + [
        {
            "before": None,
            "counts": [tried.after(after) for after in CarFound],
            "sum": tried.cars,
        }
    ]
