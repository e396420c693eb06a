"""The description of the API as a file, and as a page that needs nothing else."""

import json
from functools import cache
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET
from drf_spectacular.generators import SchemaGenerator
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from deploy.api.shown import rooms_of
from inventory.access import allow
from inventory.api.foundation.problems import MEANINGS
from inventory.api.foundation.sign_in import TokenThrottle
from inventory.compute.roles import Ability


@cache
def description() -> dict[str, Any]:
    """Make the description, once for as long as the service runs."""
    generator: Any = SchemaGenerator
    made = generator().get_schema(request=None, public=True)
    # As a client gets it: plain lists and texts.
    as_json: dict[str, Any] = json.loads(json.dumps(made, default=str))
    return as_json


class Openapi(APIView):
    """The description, for whoever is signed in or has a token."""

    schema = None

    def get(self, request: Request) -> Response:
        return Response(description())


openapi = Openapi.as_view()


@require_GET
@allow(Ability.LOOK)
def documentation(request: HttpRequest) -> HttpResponse:
    """Show what each operation does, takes, gives and refuses."""
    rate, _, _ = str(TokenThrottle.THROTTLE_RATES["token"]).partition("/")
    context = {
        "rooms": rooms_of(description()),
        "meanings": MEANINGS.items(),
        "requests_a_minute": rate,
    }
    page = render(request, "api/docs.html", context)
    patch_vary_headers(page, ["Cookie"])
    return page
