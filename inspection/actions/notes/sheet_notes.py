"""Notes on a sheet: words, and a picture where there is one."""

import hashlib

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.readings import lock_sheet
from inspection.files.pictures import Picture, PictureError, read_picture
from inspection.models import NotePicture, SheetNote
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError


@transaction.atomic
def note_on_sheet(
    number: str, text: str, *, act: Act, picture: bytes | None = None
) -> SheetNote:
    """
    Note something on an open sheet, with a picture of it where there is one.

    Writes a SheetNote and a NotePicture; audits ``sheet.noted``.  Raises RefusedError
    without words, for a file that is no picture, and when the sheet is sealed or void.
    """
    trimmed = text.strip()
    if not trimmed:
        raise RefusedError(
            code="note_empty", sentence=_("Say in words what is noted."), field="text"
        )
    # Before the lock: a picture takes its time.
    shown = None if picture is None else _read(picture)
    sheet = lock_sheet(number)
    note = SheetNote.objects.create(sheet=sheet, text=trimmed, by=act.by, at=act.at)
    if shown is not None:
        NotePicture.objects.create(
            note=note,
            jpeg=shown.jpeg,
            sha256=hashlib.sha256(shown.jpeg).hexdigest(),
            width=shown.width,
            height=shown.height,
        )
    record_event("sheet.noted", subject=sheet, act=act, note=note.pk)
    return note


def _read(picture: bytes) -> Picture:
    try:
        return read_picture(picture)
    except PictureError as error:
        raise RefusedError(
            code="no_picture", sentence=str(error), field="picture"
        ) from error
