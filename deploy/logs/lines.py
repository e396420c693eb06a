"""Lines of the log: JSON for a machine, plain for whoever started it by hand."""

import datetime as dt
import json
import logging
from contextvars import ContextVar
from http import HTTPStatus
from typing import Final

#: The number of the request that is being answered; empty outside of one.
request_number: ContextVar[str] = ContextVar("request_number", default="")
#: Where a request keeps its own; no header of a browser can be called so.
NUMBER_IN_META: Final = "feelerbook.number"

_STANDARD: Final = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime"}
#: What Django puts on a record that is no fact of its own, or holds too much.
_LEFT_OUT: Final = frozenset({"request", "request_number", "server_time"})


class Numbered(logging.Filter):
    """
    Give each record its request's number, and a refusal no traceback.

    Whoever asks for what is not theirs, or is not there, is answered as it should
    be: that is no fault of the code, and a traceback would hide the real ones.
    """

    def filter(self, record: logging.LogRecord) -> bool:
        record.request_number = request_number.get() or number_on(record)
        status = getattr(record, "status_code", None)
        if status is not None and status < HTTPStatus.INTERNAL_SERVER_ERROR:
            record.exc_info = None
        hide_code(record)
        return True


def number_on(record: logging.LogRecord) -> str:
    """Give the number of a request that was answered before the line is written."""
    # Django says that it refused once everything around the page has ended.
    meta = getattr(getattr(record, "request", None), "META", {})
    return str(meta.get(NUMBER_IN_META, ""))


def hide_code(record: logging.LogRecord) -> None:
    """Take out of a line the code of an address that opens a door."""
    match = getattr(getattr(record, "request", None), "resolver_match", None)
    if match is not None and (code := match.kwargs.get("code")):
        record.msg = record.getMessage().replace(str(code), "…")
        record.args = ()


class JsonLine(logging.Formatter):
    """One JSON object a line: nothing that is logged can begin a line of its own."""

    def format(self, record: logging.LogRecord) -> str:
        at = dt.datetime.fromtimestamp(record.created, tz=dt.UTC)
        fields: dict[str, object] = {
            "at": at.isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if number := getattr(record, "request_number", ""):
            fields["request"] = number
        facts = vars(record)
        fields |= {
            name: facts[name] for name in facts if name not in _STANDARD | _LEFT_OUT
        }
        if record.exc_info:
            fields["traceback"] = self.formatException(record.exc_info)
        return json.dumps(fields, default=str, ensure_ascii=False)
