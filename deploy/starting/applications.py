"""
The applications that a server serves: each request is read as UTF-8, whatever it says.

Pages go out in UTF-8 and so their forms come back in it; JSON is in no other (RFC
8259, 8.1).  Python has codecs that are none of text, and names that stand for none:
Django takes them from a Content-Type while it makes the request, before anything that
could answer.  So nothing is taken from there, and a middleware refuses what is said to
be written otherwise.

The whole program is read in before the first request, and left out of collections of
garbage from then on: one that looks at everything takes a tenth of a second, in the
middle of somebody's reading.
"""

import codecs
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any

import django
from django.conf import settings
from django.core.handlers.asgi import ASGIHandler, ASGIRequest
from django.core.handlers.wsgi import WSGIHandler, WSGIRequest
from django.http import HttpRequest
from django.utils.http import parse_header_parameters

UTF8 = frozenset({"utf-8", "ascii"})
#: Python's own codec that refuses everything.
UNREADABLE = {"charset": "undefined"}


def is_utf8(request: HttpRequest) -> bool:
    """Tell whether a request says of itself that it is UTF-8, or says nothing known."""
    try:
        return codecs.lookup((request.content_params or {})["charset"]).name in UTF8
    except LookupError:
        return True


class _ReadAsUtf8:
    content_type: str | None
    content_params: dict[str, str] | None

    def _set_content_type_params(self, meta: Any) -> None:
        try:
            said = parse_header_parameters(meta.get("CONTENT_TYPE", ""))
        except ValueError:
            said = "", UNREADABLE
        self.content_type, self.content_params = said


class _WsgiRequest(_ReadAsUtf8, WSGIRequest):
    pass


class _AsgiRequest(_ReadAsUtf8, ASGIRequest):
    pass


class _Wsgi(WSGIHandler):
    request_class = _WsgiRequest


class _Asgi(ASGIHandler):
    request_class = _AsgiRequest


def wsgi_application() -> WSGIHandler:
    """Give the application that waitress and gunicorn serve."""
    with _read_in():
        return _Wsgi()


def asgi_application() -> ASGIHandler:
    """Give the application of an asynchronous server."""
    with _read_in():
        return _Asgi()


@contextmanager
def _read_in() -> Iterator[None]:
    gc.disable()
    try:
        django.setup(set_prefix=False)
        yield
        # Every page, with all that it needs.
        import_module(settings.ROOT_URLCONF)
        gc.freeze()
    finally:
        gc.enable()
