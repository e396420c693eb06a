"""Any list as a file: read a page of rows at a time, sent while it is made."""

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from django.http import StreamingHttpResponse

from inventory.actions.audit import record_export
from inventory.api.foundation.cursors import MOST_ROWS, page_of
from inventory.api.foundation.operations import Call, Form, Operation
from inventory.files.exports import Cell, ExportTable
from inventory.files.streamed.tables import StreamForm, stream_table

#: The word of a query that asks for a list as a file.
WORD: Final = "as"
MEDIA: Final[Mapping[StreamForm, str]] = {
    StreamForm.CSV: "text/csv",
    StreamForm.JSON_LINES: "application/jsonl",
    StreamForm.XLSX: (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    ),
}


def streamed(table: ExportTable, form: StreamForm, name: str) -> StreamingHttpResponse:
    """Send a table as a file while it is made."""
    lines = stream_table(table, form)
    answer = StreamingHttpResponse(lines, content_type=MEDIA[form])
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def list_as_file(
    call: Call, operation: Operation, rows: Any, *, form: StreamForm, fields: list[str]
) -> StreamingHttpResponse:
    """
    Send the whole of a list: every row that its filters leave, in its order.

    ``fields`` are the columns.  What is no single value is JSON in its cell; JSON
    lines hold each row as the pages give it.
    """
    name = f"{operation.name.removeprefix('list_')}.{form.value}"
    record_export(name, act=call.act, form=form)
    written = _written(call, operation, rows)
    is_flat = form is not StreamForm.JSON_LINES
    cells: Iterator[list[Any]] = (
        [_cell(row[field]) if is_flat else row[field] for field in fields]
        for row in written
    )
    return streamed(ExportTable(name=name, headings=fields, rows=cells), form, name)


def _written(call: Call, operation: Operation, rows: Any) -> Iterator[Any]:
    gives: Any = operation.gives
    for page in _pages(call, operation, rows):
        loaded = operation.load(call, page) if operation.load else page
        yield from gives(loaded, many=True, context={"call": call}).data


def _pages(call: Call, operation: Operation, rows: Any) -> Iterator[list[Any]]:
    order = operation.order
    if operation.form is Form.ALL or order is None:
        yield list(rows)
        return
    word = call.request.query_params.get("ordering", order.usual)
    cursor = ""
    while True:
        page = page_of(rows, order, word=word, cursor=cursor, limit=MOST_ROWS)
        yield page.rows
        cursor = page.cursor
        if not cursor:
            return


def _cell(value: Any) -> Cell:
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None or isinstance(value, (str, int, float)):
        return value
    return json.dumps(value, ensure_ascii=False)
