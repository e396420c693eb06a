"""Editions: one edition, its settings, publishing, its file, two side by side."""

import base64

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inspection.actions.drafts import change_edition, discard_draft
from inspection.actions.rulebooks import publish_edition
from inspection.compute.rulebooks import difference
from inspection.files.rulebooks import checksum, write_rulebook
from inspection.forms.rulebooks.rulebooks import EditionForm, PublishForm
from inspection.loaders.rulebooks.editions import rulebook_text
from inspection.loaders.rulebooks.shelf import contradictions_of, edition_before
from inspection.models import Edition, Rule
from inspection.views.rulebooks.decision_rules import decision_rules, explained
from inspection.views.rulebooks.rule_words import rule_line, side_lines
from inspection.words.contradictions import contradiction_words
from inventory.access import allow
from inventory.actions.audit import record_export
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page
from inventory.views.sent import as_file
from inventory.views.turns import in_turn


def posted(request: HttpRequest) -> QueryDict | None:
    """Give what was sent, also where that is nothing; None for a look."""
    return request.POST if request.method == "POST" else None


def edition_or_404(edition_id: int) -> Edition:
    """Give an edition with its rulebook and its people."""
    editions = Edition.objects.select_related("rulebook", "created_by", "published_by")
    return get_object_or_404(editions, pk=edition_id)


@require_GET
@allow(Ability.LOOK)
def edition(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Show an edition: its rules in order, its decision rule, its checksum."""
    edition = edition_or_404(edition_id)
    text = rulebook_text(edition)
    keys = Rule.objects.filter(edition=edition).values_list("pk", flat=True)
    sha256 = checksum(text)
    # What was published cannot be mended any more.
    faults = () if edition.is_published else contradictions_of(edition, text)
    others = Edition.objects.filter(rulebook=edition.rulebook).exclude(pk=edition.pk)
    return render(
        request,
        "inspection/rulebooks/edition.html",
        {
            "edition": edition,
            "text": text,
            "rules": [rule_line(r, pk) for r, pk in zip(text.rules, keys, strict=True)],
            "decision_rule": explained(edition.decision_rule, text),
            "percent": f"{(100 * edition.confidence).normalize():f}",
            "sha256": sha256,
            "is_intact": not edition.is_published or sha256 == edition.sha256,
            "contradictions": [
                (contradiction_words(one), one.blocks) for one in faults
            ],
            "others": others.select_related("rulebook"),
        },
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
@in_turn
def edition_settings(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Choose a draft's decision rule and confidence, and write its note."""
    edition = edition_or_404(edition_id)
    form = EditionForm(
        posted(request),
        initial={
            "decision_rule": edition.decision_rule,
            "confidence": f"{(100 * edition.confidence).normalize():f}",
            "note": edition.note,
        },
    )
    form.of = edition
    if form.is_valid():
        with form.refusing():
            change_edition(edition.pk, form.facts(), act=act_of(request))
            return redirect("inspection:edition", edition_id=edition.pk)
    return form_page(
        request,
        form,
        "inspection/rulebooks/edition_settings.html",
        {
            "edition": edition,
            "decision_rules": decision_rules(rulebook_text(edition)),
        },
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
def publish(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Show once more what changes; then publish, and race by it where that is said."""
    edition = edition_or_404(edition_id)
    if request.method == "GET" and edition.published_at is not None:
        return redirect("inspection:edition", edition_id=edition.pk)
    form = PublishForm(posted(request), rulebook_id=edition.rulebook_id)
    if form.is_valid():
        nights = form.cleaned_data.get("nights", ())
        with form.refusing():
            publish_edition(
                edition.pk, night_ids=[one.pk for one in nights], act=act_of(request)
            )
            return redirect("inspection:edition", edition_id=edition.pk)
    before, text = edition_before(edition), rulebook_text(edition)
    changes = difference(rulebook_text(before), text) if before else None
    faults = contradictions_of(edition, text)
    return form_page(
        request,
        form,
        "inspection/rulebooks/publish.html",
        {
            "edition": edition,
            "before": before,
            "difference": changes,
            "lines": side_lines(changes) if changes else (),
            "contradictions": [
                (contradiction_words(one), one.blocks) for one in faults
            ],
            "is_blocked": any(one.blocks for one in faults),
            "sha256": checksum(text),
            "count": len(text.rules),
        },
    )


@require_POST
@allow(Ability.WRITE_RULEBOOKS)
def discard(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Throw a draft away."""
    edition = edition_or_404(edition_id)
    try:
        discard_draft(edition.pk, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inspection:edition", edition_id=edition.pk)
    messages.success(request, _("%(found)s is thrown away.") % {"found": edition})
    return redirect("inspection:rulebooks")


@require_GET
@allow(Ability.LOOK)
def edition_file(request: HttpRequest, edition_id: int) -> HttpResponse:
    """Give an edition as its canonical file, with its SHA-256 (RFC 9530)."""
    edition = edition_or_404(edition_id)
    text = rulebook_text(edition)
    digest = base64.b64encode(bytes.fromhex(checksum(text))).decode()
    name = f"{slugify(text.rulebook) or 'rulebook'}-{text.edition}.json"
    record_export(edition, act=act_of(request), form="json")
    reply = HttpResponse(
        write_rulebook(text),
        content_type="application/json",
        headers={"Content-Digest": f"sha-256=:{digest}:"},
    )
    return as_file(reply, name)


@require_GET
@allow(Ability.LOOK)
def side_by_side(request: HttpRequest, edition_id: int, other_id: int) -> HttpResponse:
    """Show what an edition says otherwise than another one."""
    edition, other = edition_or_404(edition_id), edition_or_404(other_id)
    changes = difference(rulebook_text(other), rulebook_text(edition))
    return render(
        request,
        "inspection/rulebooks/difference.html",
        {
            "edition": edition,
            "other": other,
            "difference": changes,
            "lines": side_lines(changes),
        },
    )
