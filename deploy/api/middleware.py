"""Whatever goes wrong on the way to the API is a problem too, and no page."""

import json
from collections.abc import Callable
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse

from inventory.api.foundation.problems import MEANINGS, MEDIA, ProblemError, body_of

_CODES = {404: "not_found", 400: "malformed", 403: "not_allowed"}


class ProblemsOfTheApi:
    """Write a refusal of what lies before the API as the API writes its own."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        kind = response.headers.get("Content-Type", "")
        if (
            not request.path_info.startswith("/api/")
            or response.status_code < HTTPStatus.BAD_REQUEST
            or not kind.startswith("text/html")
        ):
            return response
        status = response.status_code
        problem = ProblemError(
            status=status,
            code=_CODES.get(status, "failed"),
            detail=MEANINGS.get(status, HTTPStatus(status).phrase),
        )
        answer = HttpResponse(
            json.dumps(body_of(problem)), content_type=MEDIA, status=status
        )
        if "Retry-After" in response.headers:
            answer.headers["Retry-After"] = response.headers["Retry-After"]
        return answer
