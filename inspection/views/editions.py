"""Editions: one edition, its settings, publishing, its file, two side by side."""

import base64

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.access import ANYONE_SIGNED_IN, CHIEF
from inspection.actions.drafts import change_edition, discard_draft
from inspection.actions.rulebooks import publish_edition
from inspection.compute.conformity import DecisionRule
from inspection.compute.differences import difference
from inspection.files.rulebooks import checksum, write_rulebook
from inspection.forms.rulebooks import EditionForm, PublishForm
from inspection.loaders.editions import contradictions_of, edition_before
from inspection.loaders.rulebooks import rulebook_text
from inspection.models import Edition, Rule
from inspection.views.decision_rules import decision_rules, explained
from inspection.views.rule_words import rule_line, side_lines
from inventory.access import allow
from inventory.actions.refusals import RefusedError
from inventory.views.acts import act_of


def posted(request: HttpRequest) -> QueryDict | None:
    """Give what was sent, also where that is nothing; None for a look."""
    return request.POST if request.method == "POST" else None


def edition_or_404(edition_id: int) -> Edition:
    """Give an edition with its rulebook and its people."""
    editions = Edition.objects.select_related("rulebook", "created_by", "published_by")
    return get_object_or_404(editions, pk=edition_id)


@require_GET
@allow(ANYONE_SIGNED_IN)
def edition(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Show an edition: its rules in order, its decision rule, its checksum."""
    found = edition_or_404(edition_id)
    text = rulebook_text(found)
    keys = Rule.objects.filter(edition=found).values_list("pk", flat=True)
    sha256 = checksum(text)
    # What was published cannot be mended any more.
    faults = () if found.is_published else contradictions_of(found, text)
    others = Edition.objects.filter(rulebook=found.rulebook).exclude(pk=found.pk)
    return render(
        request,
        "inspection/edition.html",
        {
            "edition": found,
            "text": text,
            "rules": [rule_line(r, pk) for r, pk in zip(text.rules, keys, strict=True)],
            "decision_rule": explained(DecisionRule(found.decision_rule), text),
            "percent": f"{(100 * found.confidence).normalize():f}",
            "sha256": sha256,
            "is_intact": not found.is_published or sha256 == found.sha256,
            "contradictions": faults,
            "others": others.select_related("rulebook"),
        },
    )


@require_http_methods(["GET", "POST"])
@allow(CHIEF)
def edition_settings(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Choose a draft's decision rule and confidence, and write its note."""
    found = edition_or_404(edition_id)
    form = EditionForm(
        posted(request),
        initial={
            "decision_rule": found.decision_rule,
            "confidence": f"{(100 * found.confidence).normalize():f}",
            "note": found.note,
        },
    )
    if form.is_valid():
        try:
            change_edition(found.pk, form.facts(), act=act_of(request))
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:edition", edition_id=found.pk)
    return render(
        request,
        "inspection/edition_settings.html",
        {
            "form": form,
            "edition": found,
            "decision_rules": decision_rules(rulebook_text(found)),
        },
        status=422 if form.errors else 200,
    )


@require_http_methods(["GET", "POST"])
@allow(CHIEF)
def publish(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Show once more what changes; then publish, and race by it where that is said."""
    found = edition_or_404(edition_id)
    form = PublishForm(posted(request), rulebook_id=found.rulebook_id)
    if form.is_valid():
        nights = form.cleaned_data.get("nights", ())
        try:
            publish_edition(
                found.pk, night_ids=[one.pk for one in nights], act=act_of(request)
            )
        except RefusedError as refusal:
            form.refuse(refusal)
        else:
            return redirect("inspection:edition", edition_id=found.pk)
    before, text = edition_before(found), rulebook_text(found)
    said = difference(rulebook_text(before), text) if before else None
    faults = contradictions_of(found, text)
    return render(
        request,
        "inspection/publish.html",
        {
            "form": form,
            "edition": found,
            "before": before,
            "difference": said,
            "lines": side_lines(said) if said else (),
            "contradictions": faults,
            "is_blocked": any(one.blocks for one in faults),
            "sha256": checksum(text),
            "count": len(text.rules),
        },
        status=422 if form.errors else 200,
    )


@require_POST
@allow(CHIEF)
def discard(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Throw a draft away."""
    found = edition_or_404(edition_id)
    try:
        discard_draft(found.pk, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:edition", edition_id=found.pk)
    messages.success(request, f"{found} is thrown away.")
    return redirect("inspection:rulebooks")


@require_GET
@allow(ANYONE_SIGNED_IN)
def edition_file(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Give an edition as its canonical file, with its SHA-256 (RFC 9530)."""
    found = edition_or_404(edition_id)
    text = rulebook_text(found)
    digest = base64.b64encode(bytes.fromhex(checksum(text))).decode()
    name = f"{slugify(text.rulebook) or 'rulebook'}-{text.edition}.json"
    return HttpResponse(
        write_rulebook(text),
        content_type="application/json",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Content-Digest": f"sha-256=:{digest}:",
        },
    )


@require_GET
@allow(ANYONE_SIGNED_IN)
def side_by_side(request: HttpRequest, edition_id: int, other_id: int) -> HttpResponse:
    """Show what an edition says otherwise than another one."""
    found, other = edition_or_404(edition_id), edition_or_404(other_id)
    said = difference(rulebook_text(other), rulebook_text(found))
    return render(
        request,
        "inspection/difference.html",
        {
            "edition": found,
            "other": other,
            "difference": said,
            "lines": side_lines(said),
        },
    )
