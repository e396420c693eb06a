"""The description (OpenAPI 3.1) of each operation, from its declaration alone."""

from collections.abc import Iterator
from typing import Any, Final

from django.forms import ChoiceField, DateField, IntegerField, ModelChoiceField
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import (
    OpenApiExample,
    OpenApiParameter,
    OpenApiResponse,
)
from rest_framework import serializers

from inventory.api.foundation.cursors import MOST_ROWS, ROWS_A_PAGE
from inventory.api.foundation.operations import MADE, Form, Operation
from inventory.api.foundation.problems import MEANINGS, MEDIA, ProblemError, body_of
from inventory.api.foundation.repeats import HEADER, LONGEST, SIGNS
from inventory.api.foundation.shapes import Gives, Said, Takes
from inventory.api.foundation.streams import MEDIA as STREAM_MEDIA
from inventory.api.foundation.streams import WORD
from inventory.compute.tokens import Scope

_ALWAYS: Final = (401, 403, 429, 500, 503)
_JSON: Final = "application/json"
_TWICE: Final = (
    f"The same request sent twice without an {HEADER} makes two, where nothing refuses "
    "the second."
)


class WrongField(Gives):
    field = Said(help_text="Its name, or the way to it; empty: the whole.")
    code = Said(help_text="A stable word for programs.")
    detail = Said(help_text="A sentence for people.")


class Problem(Gives):
    """A problem (RFC 9457)."""

    type = Said()
    title = Said()
    status = serializers.IntegerField()
    code = Said(help_text="A stable word for programs.")
    detail = Said(help_text="A sentence for people.")
    errors = WrongField(many=True)  # type: ignore[assignment]


class OperationSchema(AutoSchema):
    """Describes an operation by what its declaration says, and nothing else."""

    @property
    def operation(self) -> Operation:
        view: Any = self.view
        operation: Operation = view.operations[self.method.lower()]
        return operation

    def get_operation_id(self) -> str:
        return self.operation.name

    def get_tags(self) -> list[str]:
        return [self.operation.do.__module__.split(".")[2]]

    def get_summary(self) -> str:
        return self.operation.words.partition("\n\n")[0].replace("\n", " ")

    def get_description(self) -> str:  # type: ignore[override]
        rest = self.operation.words.partition("\n\n")[2]
        ability, scope = self.operation.asks, self.operation.scope
        if self._makes_one_each_time:
            rest += f"\n\n{_TWICE}"
        return f"{rest}\n\nAsks for: {ability}; a token for “{scope}”.".strip()

    @property
    def _makes_one_each_time(self) -> bool:
        # What is put is put by its own key: the same one twice is there once.
        return self.method == "POST" and self.operation.status == MADE

    def get_auth(self) -> list[dict[str, list[str]]]:
        own = getattr(self.view, "described_sign_in", ("token", "session"))
        return [{name: []} for name in own]

    def is_deprecated(self) -> bool:
        return self.operation.ending is not None

    def _is_list_view(self, serializer: Any = None) -> bool:
        return False

    def get_request_serializer(self) -> Any:
        operation = self.operation
        if operation.takes is None:
            return None
        media = "multipart/form-data" if operation.is_upload else _JSON
        return {media: operation.takes}

    def get_response_serializers(self) -> Any:
        operation = self.operation
        answers: dict[Any, Any] = dict(self._successes())
        for status in sorted(refusals_of(operation, self.path)):
            example = ProblemError(
                status=status, code="a_word", detail=MEANINGS[status]
            )
            answers[status, MEDIA] = OpenApiResponse(
                Problem,
                description=MEANINGS[status],
                examples=[OpenApiExample("refused", value=body_of(example))],
            )
        return answers

    def _successes(self) -> Iterator[tuple[Any, Any]]:
        operation = self.operation
        match operation.form:
            case Form.NOTHING:
                yield operation.status, OpenApiResponse(description="Done.")
            case Form.FILE:
                answer = OpenApiResponse(OpenApiTypes.BINARY, description="The file.")
                yield (200, operation.media), answer
            case _:
                for status in {operation.status, *self._other_status()}:
                    yield (
                        (status, _JSON),
                        OpenApiResponse(self._body(operation), description="Done."),
                    )
        if operation.is_list:
            for media in STREAM_MEDIA.values():
                answer = OpenApiResponse(OpenApiTypes.BINARY, description="Done.")
                yield (200, media), answer
        if operation.scope is Scope.READ and operation.form is not Form.FILE:
            yield 304, OpenApiResponse(description="It is as If-None-Match says.")

    def _other_status(self) -> set[int]:
        # What is put by its own key is written once: later it is there already.
        return (
            {200} if self.method == "PUT" and self.operation.status == MADE else set()
        )

    def _body(self, operation: Operation) -> dict[str, Any]:
        assert operation.gives is not None  # noqa: S101  of these forms each has it
        component = self.resolve_serializer(operation.gives, "response")
        one: dict[str, Any] = component.ref
        if operation.scope is Scope.READ:
            # With ``fields`` some are left out; what is there is as described.
            some = {
                key: value
                for key, value in component.schema.items()
                if key != "required"
            }
            one = {"anyOf": [component.ref, some]}
        if operation.form is Form.ONE:
            return one
        properties: dict[str, Any] = {"items": {"type": "array", "items": one}}
        if operation.form is Form.PAGES:
            properties["next"] = {
                "type": ["string", "null"],
                "description": "The address of the next page; null on the last.",
            }
        return {
            "type": "object",
            "required": list(properties),
            "properties": properties,
            "additionalProperties": False,
        }

    def get_override_parameters(self) -> list[Any]:
        return [*self._query(), *self._headers()]

    def _query(self) -> Iterator[Any]:
        operation = self.operation
        if operation.query is not None:
            yield operation.query
        for name, one in (
            operation.filters.base_filters if operation.filters else {}
        ).items():
            yield OpenApiParameter(
                name, _of_field(one.field), description=str(one.label or "")
            )
        if operation.form is Form.PAGES and operation.order is not None:
            yield OpenApiParameter(
                "ordering", enum=operation.order.words, default=operation.order.usual
            )
            yield OpenApiParameter(
                "limit",
                {"type": "integer", "minimum": 1, "maximum": MOST_ROWS},
                default=ROWS_A_PAGE,
            )
            yield OpenApiParameter(
                "cursor", str, description="As the address in `next` says it."
            )
        if operation.is_list:
            yield OpenApiParameter(
                WORD,
                enum=list(STREAM_MEDIA),
                description="The whole list as a file, streamed; without pages.",
            )
        if operation.gives is not None and operation.scope is Scope.READ:
            words = "|".join(operation.gives().fields)
            yield OpenApiParameter(
                "fields",
                {"type": "string", "pattern": f"^({words})(,({words}))*$"},
                description="Give these fields alone, commas between them.",
            )

    def _headers(self) -> Iterator[OpenApiParameter]:
        operation = self.operation
        where: Any = OpenApiParameter.HEADER
        if operation.scope is Scope.READ and operation.form is not Form.FILE:
            yield OpenApiParameter("If-None-Match", str, where)
        if operation.guarded_by is not None:
            yield OpenApiParameter("If-Match", str, where, required=True)
        if self.method == "POST" and operation.scope is not Scope.READ:
            yield OpenApiParameter(
                HEADER,
                {"type": "string", "maxLength": LONGEST, "pattern": SIGNS},
                where,
                description="The same key and request get the same answer once.",
            )

    def get_examples(self) -> list[OpenApiExample]:
        if self.operation.example is None:
            return []
        return [
            OpenApiExample("usual", value=self.operation.example, request_only=True)
        ]

    def _postprocess_serializer_schema(
        self, schema: Any, serializer: Any, direction: str
    ) -> Any:
        inherited: Any = super()._postprocess_serializer_schema
        closed = inherited(schema, serializer, direction)
        if isinstance(serializer, Takes):
            closed["additionalProperties"] = False
        return closed


def refusals_of(operation: Operation, path: str) -> set[int]:
    """Give the statuses by which an operation may refuse."""
    statuses = set(_ALWAYS)
    if operation.form is not Form.NOTHING:
        statuses.add(400)
    if "{" in path:
        statuses.add(404)
    if operation.takes is not None:
        statuses |= {400, 413, 415}
    if operation.scope is not Scope.READ:
        statuses |= {400, 409, 422, 507}
    if operation.query is not None or operation.form is Form.FILE:
        statuses |= {409, 422}
    if path.startswith("/api/v1/box") or "{number}" in path:
        statuses.add(409)
    if operation.guarded_by is not None:
        statuses |= {412, 428}
    return statuses


def _of_field(field: Any) -> Any:
    """Say what a filter takes."""
    if isinstance(field, ModelChoiceField):
        return {"type": "integer", "minimum": 1, "maximum": 10**15}
    if isinstance(field, ChoiceField):
        choices: Any = field.choices
        words = [str(key) for key, _ in choices if key]
        return {"type": "string", "enum": words}
    if isinstance(field, IntegerField):
        low = field.min_value or 0
        return {"type": "integer", "minimum": low, "maximum": field.max_value}
    if isinstance(field, DateField):
        return {"type": "string", "format": "date"}
    most = getattr(field, "max_length", None)
    return {"type": "string", **({"maxLength": most} if most else {})}


def share_refusals(
    result: dict[str, Any], generator: Any, request: Any, public: Any
) -> dict[str, Any]:
    """Say each refusal once, and point to it from every operation."""
    shared: dict[str, Any] = {}
    for methods in result["paths"].values():
        for operation in methods.values():
            for status, one in operation["responses"].items():
                if MEDIA in one.get("content", {}):
                    shared[f"Problem{status}"] = one
                    operation["responses"][status] = {
                        "$ref": f"#/components/responses/Problem{status}"
                    }
    result["components"]["responses"] = dict(sorted(shared.items()))
    return result
