"""Exchange: taking in another club's file, and the schema of such files."""

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from inspection.actions.exchange import import_edition
from inspection.compute.rulebooks import Difference, RulebookText, difference
from inspection.files.rulebook_schema import SCHEMA_FILE
from inspection.files.rulebooks import (
    LARGEST_FILE,
    RulebookFileError,
    checksum,
    read_rulebook,
)
from inspection.forms.rulebooks.rulebooks import ImportForm
from inspection.loaders.rulebooks.editions import rulebook_text
from inspection.models import Edition
from inspection.views.rulebooks.editions import posted
from inspection.views.rulebooks.rule_words import side_lines
from inventory.access import allow
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.WRITE_RULEBOOKS)
def import_rulebook(request: HttpRequest) -> HttpResponse:
    """Take in a file as a draft, then show what differs from what is here."""
    form = ImportForm(posted(request), request.FILES or None)
    text = _text(form) if form.is_valid() else None
    if text is not None:
        here = _latest(text)
        with form.refusing():
            made = import_edition(
                text,
                adds_classes=form.cleaned_data["adds_classes"],
                act=act_of(request),
            )
            messages.success(
                request,
                _("%(edition)s is taken in as a draft. SHA-256 %(sha256)s")
                % {"edition": made, "sha256": checksum(text)},
            )
            return _on(made, here)
    return form_page(
        request,
        form,
        "inspection/rulebooks/import_rulebook.html",
        {"largest": LARGEST_FILE, **_compared(text)},
    )


def _text(form: ImportForm) -> RulebookText | None:
    """Read the file; what is wrong stands beside it, by name and place."""
    file: UploadedFile[bytes] = form.cleaned_data["file"]
    if (file.size or 0) > LARGEST_FILE:
        form.add_error(
            "file",
            _("%(name)s: %(size)s bytes; at most %(largest)s are read.")
            % {
                "name": file.name,
                "size": f"{file.size:,}",
                "largest": f"{LARGEST_FILE:,}",
            },
        )
        return None
    try:
        return read_rulebook(file.read())
    except RulebookFileError as error:
        form.add_error("file", f"{file.name}, {error}")
        return None


def _latest(text: RulebookText) -> Edition | None:
    """Give the edition here that a file is held against: its own, else the last."""
    editions = Edition.objects.filter(rulebook__name=text.rulebook)
    editions = editions.select_related("rulebook")
    same = editions.filter(number=text.edition).first()
    return same or editions.published().order_by("-number").first()


def _on(made: Edition, here: Edition | None) -> HttpResponse:
    if here is None:
        return redirect("inspection:edition", edition_id=made.pk)
    return redirect("inspection:side_by_side", edition_id=made.pk, other_id=here.pk)


def _compared(text: RulebookText | None) -> dict[str, object]:
    here = _latest(text) if text else None
    if text is None or here is None:
        return {"text": text, "sha256": checksum(text) if text else ""}
    changes: Difference = difference(rulebook_text(here), text)
    return {
        "text": text,
        "sha256": checksum(text),
        "here": here,
        "difference": changes,
        "lines": side_lines(changes),
    }


@require_GET
@allow(Ability.LOOK)
def rulebook_schema(request: HttpRequest) -> HttpResponse:
    """Give the JSON Schema (2020-12) of a rulebook's file."""
    return HttpResponse(
        SCHEMA_FILE.read_bytes(), content_type="application/schema+json"
    )
