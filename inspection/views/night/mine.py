"""A driver's own view: the turn, the verdict, what to do; it follows by itself."""

import hashlib

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET

from inspection.loaders.night.board import night_tonight
from inspection.loaders.night.mine import load_mine
from inspection.loaders.night.protests import protests_to_hear
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability


@require_GET
@allow(Ability.LOOK)
def mine(request: HttpRequest) -> HttpResponse:
    """Show tonight's cars of whoever looks; a poll that finds nothing new gets 304."""
    now = timezone.now()
    night = night_tonight(timezone.localdate())
    person = signed_in(request)
    loaded = load_mine(person, night, now) if night else None
    rows = render_to_string(
        "inspection/night/mine_cars.html",
        {"mine": loaded, "to_hear": protests_to_hear(person)},
        request,
    )
    tag = f'"{hashlib.sha256(rows.encode()).hexdigest()[:24]}"'
    is_poll = "HX-Request" in request.headers
    if is_poll and request.headers.get("If-None-Match") == tag:
        return HttpResponseNotModified()
    page = render(
        request,
        f"inspection/night/{'mine_poll' if is_poll else 'mine'}.html",
        {"mine": loaded, "rows": rows, "tag": tag},
    )
    if is_poll:
        page.headers["ETag"] = tag
    patch_vary_headers(page, ["HX-Request"])
    return page
