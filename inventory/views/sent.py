"""A table, or several, as a file that goes out."""

from collections.abc import Sequence
from typing import TypeVar

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.http import content_disposition_header

from inventory.actions.audit import record_export
from inventory.files.exports import MEDIA, ExportForm, ExportTable, write_tables
from inventory.views.acts import act_of

Answer = TypeVar("Answer", bound=HttpResponseBase)


def export_form(form: str) -> ExportForm:
    """Give the form that an address names, or 404."""
    if form not in set(ExportForm):
        msg = f"“{form}” is no form of a table here."
        raise Http404(msg)
    return ExportForm(form)


def sent_tables(
    request: HttpRequest, tables: Sequence[ExportTable], form: ExportForm, name: str
) -> HttpResponse:
    """Send tables: several as a sheet each, an object of lists, or packed files."""
    content = write_tables(tables, form)
    packed = len(tables) > 1 and form in {ExportForm.CSV, ExportForm.CSV_COMMA}
    media, ending = ("application/zip", "zip") if packed else MEDIA[form]
    return sent(request, content, media, f"{name}.{ending}", form=form)


def sent(
    request: HttpRequest, content: bytes, media: str, file_name: str, *, form: str
) -> HttpResponse:
    """Send a file, and note that it went out."""
    record_export(file_name.rpartition(".")[0], act=act_of(request), form=form)
    return as_file(HttpResponse(content, content_type=media), file_name)


def as_file(reply: Answer, name: str) -> Answer:
    """Let an answer be kept as a file of a name."""
    header = content_disposition_header(as_attachment=True, filename=name)
    reply.headers["Content-Disposition"] = str(header)
    return reply
