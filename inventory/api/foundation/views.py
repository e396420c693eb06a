"""The view of an address: reads what was asked, does it, writes the answer."""

from collections.abc import Mapping
from typing import Any, ClassVar, Final, cast
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpResponseBase, QueryDict
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.http import http_date
from django_filters import FilterSet
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from inventory.actions.audit import Act
from inventory.api.foundation.addresses import register
from inventory.api.foundation.bodies import JsonBody
from inventory.api.foundation.cursors import MOST_ROWS, ROWS_A_PAGE, Order, page_of
from inventory.api.foundation.operations import Call, Form, Operation
from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.api.foundation.repeats import answered_once
from inventory.api.foundation.shapes import Gives
from inventory.api.foundation.states import is_known, need_state, tag_of
from inventory.api.foundation.streams import WORD, list_as_file
from inventory.compute.tokens import Scope
from inventory.files.streamed.tables import StreamForm
from inventory.models import ApiToken, Person

register()
OF_PAGES: Final = frozenset({"cursor", "limit", "ordering"})


class OnlyOurs(BaseContentNegotiation):
    """Answer as the description says, whatever a client would rather have."""

    def select_parser(self, request: Request, parsers: Any) -> Any:
        # Of a type the case says nothing (RFC 9110, 8.3.1).
        media_type = (request.content_type or "").partition(";")[0].strip().lower()
        return next((one for one in parsers if one.media_type == media_type), None)

    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> Any:
        return renderers[0], renderers[0].media_type


class OperationView(APIView):
    """An address with what each of its methods does."""

    operations: ClassVar[Mapping[str, Operation]] = {}
    content_negotiation_class = OnlyOurs
    metadata_class = None

    @property
    def operation(self) -> Operation:
        method = str(self.request.method).lower()
        return self.operations["get" if method == "head" else method]

    def get_parsers(self) -> list[Any]:
        uploads = any(one.is_upload for one in self.operations.values())
        return [JsonBody(), *([MultiPartParser()] if uploads else [])]

    def check_permissions(self, request: Request) -> None:
        super().check_permissions(request)
        if str(request.method).lower() in {*self.operations, "head"}:
            refuse_above(request, self.operation)

    def answer(self, request: Request, **ids: Any) -> HttpResponseBase:
        """Answer one request by its operation."""
        operation = self.operation
        call = self.called(request, operation)
        if operation.scope is Scope.READ:
            response = self.read(call, operation, ids)
        elif request.method == "POST":
            response = answered_once(
                request,
                call.person,
                lambda: self.write(call, operation, ids),
                at=call.act.at,
            )
        else:
            response = self.write(call, operation, ids)
        if operation.ending is not None:
            since = int(operation.ending.since.timestamp())
            response.headers["Deprecation"] = f"@{since}"
            response.headers["Sunset"] = http_date(operation.ending.ends.timestamp())
        return response

    def called(self, request: Request, operation: Operation) -> Call:
        """Read what was said, and refuse what is not known."""
        refuse_unknown(request.query_params, operation)
        person = cast("Person", request.user)
        act = Act(by=person, at=timezone.now())
        takes = operation.takes or operation.query
        if takes is None:
            return Call(request=request, act=act)
        data: Any = request.data if operation.takes else query_said(request, operation)
        taken = takes(data=data)
        taken.is_valid(raise_exception=True)
        return Call(request=request, act=act, said=taken.validated_data)

    def read(self, call: Call, operation: Operation, ids: Any) -> HttpResponseBase:
        """Answer a look, or 304 where nothing has changed."""
        done = operation.do(call, **ids)
        if operation.form is Form.FILE:
            return cast("HttpResponseBase", done)
        if WORD in call.request.query_params:
            return _file(call, operation, done)
        data = written(call, operation, done)
        tag = tag_of(data)
        # First what is wrong: a condition counts where the answer would be good
        # (RFC 9110, 13.2.1).
        shown = with_fields(call, operation, data)
        if is_known(call.request, tag):
            return Response(status=304, headers={"ETag": tag})
        return Response(shown, headers={"ETag": tag})

    def write(self, call: Call, operation: Operation, ids: Any) -> Response:
        """Do a write, where asked only on the state that the client has seen."""
        guard = operation.guarded_by
        if guard is None:
            return self.done(call, operation, ids)
        with transaction.atomic():
            if operation.locks is not None:
                operation.locks(call, **ids)
            before = written(call, guard, guard.do(call, **ids))
            need_state(call.request, tag_of(before))
            return self.done(call, operation, ids)

    def done(self, call: Call, operation: Operation, ids: Any) -> Response:
        """Do a write, and answer what became of it."""
        done = operation.do(call, **ids)
        if operation.form is Form.NOTHING:
            return Response(status=operation.status)
        status, done = done if isinstance(done, tuple) else (operation.status, done)
        return Response(written(call, operation, done), status=status)


def refuse_above(request: Request, operation: Operation) -> None:
    """Refuse what the person may not, or the token does not cover."""
    token = request.auth
    if isinstance(token, ApiToken) and not token.scope.covers(operation.scope):
        raise ProblemError(
            403,
            "scope_too_small",
            f"This token is for “{token.scope}”; “{operation.scope}” was expected.",
        )
    if not cast("Person", request.user).may(operation.asks):
        raise PermissionDenied


def refuse_unknown(query: QueryDict, operation: Operation) -> None:
    """Refuse words of a query that mean nothing here, and any that stands twice."""
    known = known_words(operation)
    wrong = [
        FieldError(
            field=name,
            code="unknown" if name not in known else "twice",
            detail=f"“{name}” is not known here."
            if name not in known
            else f"“{name}” stands twice.",
        )
        for name, values in query.lists()
        if name not in known or len(values) > 1
    ]
    if wrong:
        raise ProblemError.of_errors(400, wrong)


def known_words(operation: Operation) -> set[str]:
    """Give what a query may say."""
    known: set[str] = set()
    if operation.gives is not None and operation.scope is Scope.READ:
        known.add("fields")
    if operation.query is not None:
        known |= set(operation.query().fields)
    if operation.filters is not None:
        known |= set(operation.filters.base_filters)
    if operation.is_list:
        known.add(WORD)
    return known | OF_PAGES if operation.form is Form.PAGES else known


def query_said(request: Request, operation: Operation) -> dict[str, Any]:
    """Read a query's words as the JSON they stand for."""
    fields = operation.query().fields if operation.query else {}
    words: Any = request.query_params.dict().items()
    return {
        name: _json_of(fields[name], text) for name, text in words if name in fields
    }


def _json_of(field: Any, text: str) -> Any:
    match type(field).__mro__[0].__name__:
        case "Key" | "IntegerField" if text.removeprefix("-").isdecimal():
            return int(text) if len(text) < 19 else text
        case "BooleanField" if text in {"true", "false"}:
            return text == "true"
    return text


def written(call: Call, operation: Operation, done: Any) -> Any:
    """Write what an operation found as JSON."""
    gives = operation.gives
    if gives is None:
        return done
    context = {"call": call}
    if operation.form is Form.ONE:
        return gives(done, context=context).data
    if operation.form is Form.ALL:
        rows = done
        return {"items": gives(list(rows), many=True, context=context).data}
    return _page(call, operation, done, gives)


def _file(call: Call, operation: Operation, rows: Any) -> HttpResponseBase:
    """Send a whole list as a file; its pages' words mean nothing to it."""
    query = call.request.query_params
    word = query[WORD]
    forms = [form.value for form in StreamForm]
    if word not in forms:
        raise _wrong(field=WORD, typed=word, expected=f"one of {', '.join(forms)}")
    for name in ("cursor", "limit"):
        if name in query:
            raise _wrong(
                field=name, typed=query[name], expected=f"none beside “{WORD}”"
            )
    if operation.order is not None:
        _ordering(call, operation.order)
    if operation.filters is not None:
        rows = _filtered(operation.filters, query, rows)
    fields = _asked_fields(call, operation)
    return list_as_file(call, operation, rows, form=StreamForm(word), fields=fields)


def _ordering(call: Call, order: Order) -> str:
    word = call.request.query_params.get("ordering", order.usual)
    if word not in order.words:
        raise _wrong(
            field="ordering", typed=word, expected=f"one of {', '.join(order.words)}"
        )
    return word


def _page(call: Call, operation: Operation, rows: Any, gives: type[Gives]) -> Any:
    order = operation.order
    assert order is not None  # noqa: S101  declared with every list
    query = call.request.query_params
    word = _ordering(call, order)
    limit = _limit(query.get("limit", str(ROWS_A_PAGE)))
    if operation.filters is not None:
        rows = _filtered(operation.filters, query, rows)
    page = page_of(rows, order, word=word, cursor=query.get("cursor", ""), limit=limit)
    loaded = operation.load(call, page.rows) if operation.load else page.rows
    return {
        "items": gives(loaded, many=True, context={"call": call}).data,
        "next": _next(call.request, page.cursor) if page.cursor else None,
    }


def _filtered(filters: type[FilterSet], query: QueryDict, rows: Any) -> Any:
    filtered = filters(query, queryset=rows)
    if not filtered.is_valid():
        raise ProblemError.of_errors(400, ProblemError.of_form(filtered.form).errors)
    return filtered.qs


def _next(request: Request, cursor: str) -> str:
    kept = request.query_params.dict() | {"cursor": cursor}
    return f"{request.path}?{urlencode(kept)}"


def _limit(text: str) -> int:
    if not (text.isascii() and text.isdecimal()) or not 1 <= int(text[:9]) <= MOST_ROWS:
        raise _wrong(field="limit", typed=text, expected=f"1 to {MOST_ROWS}")
    return int(text)


def with_fields(call: Call, operation: Operation, data: Any) -> Any:
    """Leave out the fields that were not asked for."""
    if "fields" not in call.request.query_params or operation.gives is None:
        return data
    asked = _asked_fields(call, operation)
    if operation.form is Form.ONE:
        return {name: data[name] for name in asked}
    items = [{name: row[name] for name in asked} for row in data["items"]]
    return data | {"items": items}


def _asked_fields(call: Call, operation: Operation) -> list[str]:
    """Give the fields that were asked for; all where nothing is said."""
    known = list(operation.gives().fields) if operation.gives else []
    if "fields" not in call.request.query_params:
        return known
    asked = call.request.query_params["fields"].split(",")
    if wrong := [name for name in asked if name not in known]:
        raise _wrong(
            field="fields",
            typed=",".join(wrong),
            expected=f"some of {', '.join(known)}",
        )
    # Named twice, a column stands once, as in the rows of a page.
    return list(dict.fromkeys(asked))


def _wrong(*, field: str, typed: str, expected: str) -> ProblemError:
    message = f"“{typed}” was given; expected {expected}."
    error = FieldError(field=field, code=f"no_{field}", detail=message)
    return ProblemError.of_errors(400, [error])


def route(
    address: str,
    name: str,
    *,
    signs_in: tuple[type[Any], ...] | None = None,
    **operations: Operation,
) -> URLPattern:
    """Give an address its operations, by method."""

    def answer(view: OperationView, request: Request, **ids: Any) -> HttpResponseBase:
        return view.answer(request, **ids)

    members: dict[str, Any] = dict.fromkeys(operations, answer)
    if signs_in is not None:
        members |= {"authentication_classes": signs_in, "described_sign_in": ("box",)}
    view = type(f"{name.title().replace('_', '')}View", (OperationView,), members)
    view.operations = operations  # type: ignore[attr-defined]
    view.address_name = name  # type: ignore[attr-defined]
    shown: Any = view.as_view()  # type: ignore[attr-defined]
    shown.asks_for = {method: one.asks for method, one in operations.items()}
    made: URLPattern = path(address, shown, name=name)
    return made
