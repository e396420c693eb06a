"""All parts of a kind as a file, read and sent a page of rows at a time."""

from django.http import StreamingHttpResponse
from rest_framework import serializers

from inventory.actions.audit import record_export
from inventory.api.foundation.operations import Call, Operation, sends
from inventory.api.foundation.shapes import Takes, Word
from inventory.api.foundation.streams import MEDIA, streamed
from inventory.compute.stock import KINDS, PartKind
from inventory.files.streamed.tables import StreamForm
from inventory.forms.written.tables import streamed_parts
from inventory.loaders.parts import PartSearch, find_parts


class ExportAsked(Takes):
    kind = Word(PartKind, required=False, default=PartKind.TYRE.value)
    retired = serializers.BooleanField(required=False, default=False)


def _export(form: StreamForm) -> Operation:
    def do(call: Call) -> StreamingHttpResponse:
        kind = PartKind(call.said["kind"])
        state = "retired" if call.said["retired"] else ""
        parts = find_parts(PartSearch(kind=kind, state=state)).listed_for(call.person)
        table = streamed_parts(parts, kind)
        name = f"{KINDS[kind].plural}.{form.value}"
        record_export(name, act=call.act, form=form)
        return streamed(table, form, name)

    do.__name__ = f"export_parts_as_{form.name.lower()}"
    do.__doc__ = f"Give all parts of a kind as {form.name.replace('_', ' ')}, streamed."
    return sends(MEDIA[form], query=ExportAsked)(do)


as_csv = _export(StreamForm.CSV)
as_json_lines = _export(StreamForm.JSON_LINES)
as_xlsx = _export(StreamForm.XLSX)
