"""Rulings: what the chief says of a sealed sheet that came into question."""

from collections.abc import Callable

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inspection.actions.rulings.editions import move_edition
from inspection.actions.rulings.questions import rule_on_doubt, rule_on_edition
from inspection.compute.night import Ruling
from inspection.forms.night.tonight import MoveEditionForm, RulingForm
from inspection.loaders.block.doubts import doubts_of
from inspection.models import JudgedAgain, RaceNight, Sheet, SheetRuling
from inventory.access import allow
from inventory.actions.audit import Act
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.RULE_ON_SHEETS)
def on_doubt(request: HttpRequest, number: str, check_id: int) -> HttpResponse:
    """Rule of a sealed sheet on which a gauge read that failed its next check."""
    sheet = get_object_or_404(Sheet.objects.select_related("entry__car"), number=number)
    doubts = doubts_of(sheet.pk).get(sheet.pk, [])
    doubt = next((one for one in doubts if one.check_id == check_id), None)
    if doubt is None:
        msg = f"Sheet {number} is not in doubt by that check."
        raise Http404(msg)
    sentence = _("%(gauge)s failed the check after it read: %(labels)s.")
    return _ask(
        request,
        sheet,
        sentence % {"gauge": doubt.gauge, "labels": ", ".join(doubt.labels)},
        lambda ruling, reason, act: rule_on_doubt(
            number, check_id, ruling=ruling, reason=reason, act=act
        ),
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.RULE_ON_SHEETS)
def on_edition(request: HttpRequest, judged_id: int) -> HttpResponse:
    """Rule of a sealed sheet that the new edition would decide otherwise."""
    judged = get_object_or_404(
        JudgedAgain.objects.select_related(
            "sheet__entry__car", "move__after__rulebook"
        ),
        pk=judged_id,
    )
    sentence = _("By %(edition)s the car would be “%(decision)s”. %(rules)s")
    return _ask(
        request,
        judged.sheet,
        sentence
        % {
            "edition": judged.move.after,
            "decision": judged.decision,
            "rules": judged.rules,
        },
        lambda ruling, reason, act: rule_on_edition(
            judged_id, ruling=ruling, reason=reason, act=act
        ),
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.RUN_NIGHTS)
def another_edition(request: HttpRequest, night_id: int) -> HttpResponse:
    """Let a class race by another edition from now on, with a reason."""
    night = get_object_or_404(RaceNight, pk=night_id)
    form = MoveEditionForm(request.POST or None, night=night)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            move_edition(
                night,
                cleaned["race_class"],
                cleaned["edition"],
                reason=cleaned["reason"],
                act=act_of(request),
            )
            return redirect("inspection:tonight")
    return form_page(
        request,
        form,
        "inspection/night/reason.html",
        {
            "heading": _("Another edition on %(night)s") % {"night": night},
            "button": _("Race by it from now on"),
        },
    )


def _ask(
    request: HttpRequest,
    sheet: Sheet,
    question: str,
    rule: Callable[[Ruling, str, Act], SheetRuling],
) -> HttpResponse:
    form = RulingForm(request.POST or None)
    if form.is_valid():
        cleaned = form.cleaned_data
        with form.refusing():
            rule(Ruling(cleaned["ruling"]), cleaned["reason"], act_of(request))
            return redirect("inspection:sheet", number=sheet.number)
    return form_page(
        request,
        form,
        "inspection/night/reason.html",
        {
            "entry": sheet.entry,
            "heading": _("Rule on sheet %(number)s") % {"number": sheet.number},
            "explanation": question,
            "button": _("Rule so"),
        },
    )
