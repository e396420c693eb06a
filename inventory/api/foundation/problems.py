"""
Problems (RFC 9457): one shape for whatever is refused, with a stable code.

``type`` leads to the section of the documentation on its status, ``code`` is the word
for programs, ``detail`` the sentence for people, ``errors`` names each field.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any, Final

from django import forms
from django.core.exceptions import (
    ObjectDoesNotExist,
    PermissionDenied,
    RequestDataTooBig,
)
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response

from inventory.actions.refusals import RefusedError

MEDIA: Final = "application/problem+json"
DOCS: Final = "/api/v1/docs"

#: What a status means here, whatever the operation.
MEANINGS: Final[Mapping[int, str]] = {
    400: "The request is not written as the description says.",
    401: "Nobody is signed in, or the token has ended.",
    403: "Whoever asks may not do this, or their token may not.",
    404: "There is nothing of that name, or not for whoever asks.",
    405: "This address does not know that method.",
    409: "It stands otherwise than this asks for; nothing was written.",
    412: "It was changed since it was read; read it again.",
    413: "The body is longer than any that is read here.",
    415: "The body is of a type that is not read here.",
    422: "A value cannot be taken as it is; nothing was written.",
    428: "Say in If-Match which state of it is meant.",
    429: "Too many requests by this token; wait as Retry-After says.",
    500: "The fault is the service's; it is written to its log.",
    503: "The database does not answer; come again as Retry-After says.",
    507: "The disk is full; nothing was written.",
}


@dataclass(frozen=True, kw_only=True)
class FieldError:
    """What is wrong with one field; empty: with the whole."""

    field: str
    code: str
    detail: str


@dataclass
class ProblemError(Exception):
    """A request that is refused; the handler makes a problem of it."""

    status: int
    code: str
    detail: str
    errors: list[FieldError] = field(default_factory=list)
    more: dict[str, Any] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of_form(cls, form: forms.Form) -> "ProblemError":
        """Say what a form was refused for, each field by its name."""
        errors = [
            FieldError(
                field="" if name == "__all__" else name,
                code=error.code or "invalid",
                detail=" ".join(error.messages),
            )
            for name, errors_of_field in form.errors.as_data().items()
            for error in errors_of_field
        ]
        return cls.of_errors(HTTPStatus.UNPROCESSABLE_ENTITY, errors)

    @classmethod
    def of_errors(cls, status: int, errors: list[FieldError]) -> "ProblemError":
        """Say what is wrong with fields; the first gives the code."""
        return cls(
            status=status,
            code=errors[0].code,
            detail=" ".join(one.detail for one in errors),
            errors=errors,
        )

    @classmethod
    def of_refusal(cls, refusal: RefusedError) -> "ProblemError":
        """Turn an action's refusal: 422 where a field is wrong, else 409."""
        if not refusal.field:
            return cls(
                status=HTTPStatus.CONFLICT, code=refusal.code, detail=refusal.sentence
            )
        error = FieldError(
            field=refusal.field, code=refusal.code, detail=refusal.sentence
        )
        return cls.of_errors(HTTPStatus.UNPROCESSABLE_ENTITY, [error])


def body_of(problem: ProblemError) -> dict[str, Any]:
    """Write a problem as its body."""
    return {
        "type": f"{DOCS}#problem-{problem.status}",
        "title": MEANINGS.get(problem.status, HTTPStatus(problem.status).phrase),
        "status": problem.status,
        "code": problem.code,
        "detail": problem.detail,
        "errors": [vars(one) for one in problem.errors],
        **problem.more,
    }


def problem_answer(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """Answer an error with a problem; None for a fault, which goes to the log."""
    problem = _problem_of(error)
    if problem is None:
        return None
    return Response(
        body_of(problem),
        status=problem.status,
        headers=problem.headers,
        content_type=MEDIA,
    )


def _problem_of(error: Exception) -> ProblemError | None:
    match error:
        case ProblemError():
            return error
        case RefusedError():
            return ProblemError.of_refusal(error)
        case exceptions.APIException():
            return _of_framework(error)
        case _:
            return _of_django(error)


def _of_django(error: Exception) -> ProblemError | None:
    match error:
        case Http404():
            return ProblemError(404, "not_found", str(error) or MEANINGS[404])
        case ObjectDoesNotExist():
            return ProblemError(404, "not_found", MEANINGS[404])
        case RequestDataTooBig():
            return ProblemError(413, "too_long", MEANINGS[413])
        case PermissionDenied():
            return ProblemError(403, "not_allowed", str(error) or MEANINGS[403])
        case _:
            return None


def _of_framework(error: exceptions.APIException) -> ProblemError:
    if isinstance(error, exceptions.ValidationError):
        errors = list(flattened(error.get_full_details()))
        return ProblemError.of_errors(HTTPStatus.BAD_REQUEST, errors)
    headers = {}
    if isinstance(error, exceptions.Throttled):
        headers["Retry-After"] = str(int(vars(error)["wait"] or 1) + 1)
    if challenge := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = challenge
    code = error.get_codes()
    return ProblemError(
        status=error.status_code,
        code=code if isinstance(code, str) else "refused",
        detail=str(error.detail),
        headers=headers,
    )


def flattened(details: Any, path: str = "") -> Iterable[FieldError]:
    """Give each error of a serializer with the way to its field, as ``rows.2.text``."""
    if isinstance(details, dict) and "message" in details and "code" in details:
        yield FieldError(
            field=path, code=str(details["code"]), detail=str(details["message"])
        )
    elif isinstance(details, dict):
        for name, inner in details.items():
            on = "" if name == "non_field_errors" else str(name)
            yield from flattened(inner, ".".join(filter(None, [path, on])))
    else:
        is_flat = all(isinstance(one, dict) and "message" in one for one in details)
        for place, inner in enumerate(details):
            yield from flattened(inner, path if is_flat else f"{path}.{place}")
