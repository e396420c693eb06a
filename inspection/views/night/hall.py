"""The hall display: for everybody to see, without signing in; it follows by itself."""

import hashlib

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_GET

from inspection.loaders.night.board import night_tonight
from inspection.loaders.night.hall import hall_stamp, load_hall
from inventory.access import open_to_all
from inventory.loaders.clocks import kept_ways


@require_GET
@open_to_all
def hall(request: HttpRequest) -> HttpResponse:
    """Show numbers and states; a poll that finds nothing new costs one query."""
    if not kept_ways().shows_hall:
        return render(request, "inspection/night/hall_off.html", status=404)
    today = timezone.localdate()
    stamp = hall_stamp(today)
    tag = f'"{hashlib.sha256(stamp.encode()).hexdigest()[:24]}"'
    is_poll = "HX-Request" in request.headers
    if is_poll and request.headers.get("If-None-Match") == tag:
        return HttpResponseNotModified()
    night = night_tonight(today)
    page = render(
        request,
        f"inspection/night/{'hall_board' if is_poll else 'hall'}.html",
        {"hall": load_hall(night) if night else None, "tag": tag},
    )
    if is_poll:
        page.headers["ETag"] = tag
    patch_vary_headers(page, ["HX-Request"])
    return page
