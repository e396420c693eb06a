"""One rule on every stored car, with its limit moved about."""

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from inspection.actions.drafts import Rewrite, write_rule
from inspection.compute.rulebooks import AdmittingLimit, Bound
from inspection.drawing.histogram import Spread, describe, draw_histogram
from inspection.files.rulebooks import rule_checksum
from inspection.forms.rulebooks.rulebooks import number_text
from inspection.forms.rulebooks.trials import ChoiceForm, LimitForm
from inspection.loaders.rulebooks.editions import (
    LoadedEdition,
    LoadedRule,
    load_edition,
    rule_as_text,
)
from inspection.loaders.rulebooks.stored_cars import Choice, load_stored_cars
from inspection.loaders.rulebooks.tried_limits import LimitTrial, move_limits, try_limit
from inspection.views.rulebooks.rule_words import limits_at
from inspection.views.rulebooks.rules import quantity_context, rule_or_404
from inspection.words.quantities import quantity_name
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.compute.numbers import to_millionths
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page

CHOICE = ("stage", "since", "race_class")


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """A limit that admits the share, and the address that puts it there."""

    bound: Bound
    found: AdmittingLimit
    percent: float
    query: str


@require_GET
@allow(Ability.WRITE_RULEBOOKS)
def limit_trial(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Try one rule, its limits where the address says."""
    edition = rule_or_404(rule_id).edition
    draft = load_edition(edition)
    choice = ChoiceForm(request.GET, rulebook_id=edition.rulebook_id).choice()
    rule = asked_rule(draft, rule_id, choice)
    form = LimitForm(request.GET, rule=rule, stage=choice.stage)
    tried = try_limit(
        draft,
        rule,
        load_stored_cars(choice),
        stage=choice.stage,
        limits=form.limits,
        share=form.wanted_share,
    )
    return form_page(
        request,
        form,
        "inspection/rulebooks/limit_trial.html",
        {
            "edition": edition,
            "choice": choice,
            "trial": tried,
            "seen": rule_checksum(rule_as_text(rule)),
            "suggestions": suggestions(request, tried),
            "kept": _said(request, CHOICE).items(),
            "query": urlencode(_said(request, CHOICE)),
            **_drawn(tried),
            **quantity_context(rule.quantity),
        },
    )


@require_POST
@allow(Ability.WRITE_RULEBOOKS)
def keep_limit(request: HttpRequest, rule_id: int) -> HttpResponse:
    """Write a limit that was tried into the draft."""
    edition = rule_or_404(rule_id).edition
    choice = ChoiceForm(request.POST, rulebook_id=edition.rulebook_id).choice()
    rule = asked_rule(load_edition(edition), rule_id, choice)
    form = LimitForm(request.POST, rule=rule, stage=choice.stage)
    limits = form.limits
    if limits is None:
        sentences = [str(one) for errors in form.errors.values() for one in errors]
        messages.error(request, " ".join(sentences))
        return redirect("inspection:limit_trial", rule_id=rule_id)
    moved = move_limits(rule, limits, choice.stage)
    rewrite = Rewrite(rule_id=rule_id, seen=request.POST.get("seen", ""))
    try:
        write_rule(
            edition.pk, rule_as_text(moved), rewrite=rewrite, act=act_of(request)
        )
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:limit_trial", rule_id=rule_id)
    messages.success(
        request,
        _("Rule %(number)s is now: %(limits)s.")
        % {"number": rule.number, "limits": limits_at(moved, choice.stage)},
    )
    return redirect("inspection:trial", edition_id=edition.pk)


def asked_rule(draft: LoadedEdition, rule_id: int, choice: Choice) -> LoadedRule:
    """Give the rule if it is asked at the stage chosen, or 404."""
    for rule in draft.at(choice.stage):
        if rule.pk == rule_id:
            return rule
    msg = f"That rule is not asked {choice.stage} the race."
    raise Http404(msg)


def suggestions(request: HttpRequest, tried: LimitTrial) -> list[Suggestion]:
    """Say which limit admits the share, and how to put it there."""
    kept = _said(request, (*CHOICE, "lower", "upper", "share"))
    return [
        Suggestion(
            bound=bound,
            found=admitting,
            percent=100 * admitting.admitted / max(admitting.measured, 1),
            query=urlencode(
                kept
                if admitting.limit is None
                else kept | {bound.value: number_text(to_millionths(admitting.limit))}
            ),
        )
        for bound, admitting in tried.admitting.items()
    ]


def _said(request: HttpRequest, names: tuple[str, ...]) -> dict[str, str]:
    return {name: request.GET[name] for name in names if name in request.GET}


def _drawn(tried: LimitTrial) -> dict[str, Any]:
    quantity = tried.rule.quantity
    spread = Spread(
        title=quantity_name(quantity),
        edges=tried.bins.edges,
        counts=tried.bins.counts,
        lower=tried.moved.lower,
        upper=tried.moved.upper,
        outside=tried.outside,
        unit=quantity.unit.symbol,
        places=quantity.decimals,
    )
    histogram: SafeString = mark_safe(draw_histogram(spread))  # noqa: S308
    return {
        "histogram": histogram,
        "sentences": describe(spread),
        "bars": [
            (tried.bins.edges[at], tried.bins.edges[at + 1], count)
            for at, count in enumerate(tried.bins.counts)
        ],
        "unit": quantity.unit.symbol,
        "places": quantity.decimals,
        "slider": slider_of(tried),
    }


def slider_of(tried: LimitTrial) -> dict[str, str]:
    """Give how far a slider reaches: a tenth past all values and limits."""
    drafted, moved = tried.drafted, tried.moved
    limits = (drafted.lower, drafted.upper, moved.lower, moved.upper)
    held = [*tried.bins.edges, *(one for one in limits if one is not None)]
    if not held:
        return {}
    places = tried.rule.quantity.decimals
    step = 10.0**-places
    room = max((max(held) - min(held)) / 10, 5 * step)
    return {
        "low": f"{min(held) - room:.{places}f}",
        "high": f"{max(held) + room:.{places}f}",
        "step": f"{step:.{places}f}",
    }
