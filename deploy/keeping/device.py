"""
What a device keeps to open the block without network: a shell, and its files.

No page of somebody signed in is kept: the shell names nobody and holds nothing of a
sheet.  What was typed and is not sent is the device's own store (`kept.js`); the shell
shows it, and goes on to the block as soon as the network is back.
"""

import hashlib

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_GET

from inventory.access import allow
from inventory.compute.roles import Ability

FILES = (
    "inventory/feelerbook.css",
    "inspection/kept.js",
    "inspection/shell.js",
)


@require_GET
@allow(Ability.INSPECT_CARS)
def shell(request: HttpRequest) -> HttpResponse:
    """Give the page that stands in for the block while there is no network."""
    return render(request, "keeping/shell.html")


@require_GET
@allow(Ability.INSPECT_CARS)
def worker(request: HttpRequest) -> HttpResponse:
    """Give the script that keeps the shell; it is another one when a file is."""
    files = [reverse("shell"), *map(static, FILES)]
    mark = hashlib.sha256(repr(files).encode()).hexdigest()[:12]
    context = {"files": files, "shell": files[0], "mark": mark}
    return render(
        request,
        "keeping/worker.js",
        context,
        content_type="text/javascript; charset=utf-8",
    )
