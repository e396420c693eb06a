"""Notes on a sheet: written while it is open, with a picture if wanted."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from inspection.access import sheets_seen_by
from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.compute.night import SheetState
from inspection.forms.notes import NoteForm
from inspection.loaders.block.notes import notes_on
from inspection.loaders.block.sheets import sheets_to_load
from inspection.models import NotePicture, Sheet
from inspection.views.block.pages import open_sheet
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.views.acts import act_of, form_page


@require_http_methods(["GET", "POST"])
@allow(Ability.INSPECT_CARS)
def note(request: HttpRequest, number: str) -> HttpResponse:
    """Note something on an open sheet."""
    sheet = open_sheet(number)
    form = NoteForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        with form.refusing():
            written = note_on_sheet(
                number,
                form.cleaned_data["text"],
                picture=form.picture_bytes(),
                act=act_of(request),
            )
            # The block lists its notes below all readings, out of sight.
            text = Truncator(written.text).chars(80)
            messages.success(request, _("Noted: “%(text)s”.") % {"text": text})
            return redirect("inspection:block", number=number)
    elif sheet.state is not SheetState.OPEN:
        return redirect("inspection:sheet", number=number)
    return form_page(
        request,
        form,
        "inspection/block/note.html",
        {"sheet": sheet, "notes": notes_on(sheet)},
    )


@require_GET
@allow(Ability.LOOK)
def picture(request: HttpRequest, number: str, note_id: int) -> HttpResponse:
    """Give the picture of a note to whoever may open its sheet."""
    seen = sheets_seen_by(signed_in(request), sheets_to_load())
    pictures = NotePicture.objects.filter(
        note=note_id, note__sheet__in=Sheet.objects.filter(pk__in=seen.values("pk"))
    )
    row = pictures.filter(note__sheet__number=number).first()
    if row is None:
        msg = f"Sheet {number} has no such picture for you to see."
        raise Http404(msg)
    answer = HttpResponse(bytes(row.jpeg), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer
