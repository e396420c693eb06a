"""Who acts on a page, and when; what is said and shown where it is refused."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.access import signed_in
from inventory.actions.audit import Act
from inventory.actions.refusals import Refusals


def act_of(request: HttpRequest) -> Act:
    """Say who acts, now."""
    return Act(by=signed_in(request), at=timezone.now())


def refusals_told(request: HttpRequest) -> Refusals:
    """Try an action; a refusal is said at the top of the next page."""
    return Refusals(lambda refusal: messages.error(request, refusal.sentence))


def form_page(
    request: HttpRequest,
    form: BaseForm,
    template: str,
    context: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """Show a page with its form: 422 where something of it is wrong or refused."""
    filled = {"form": form, **(context or {})}
    return render(request, template, filled, status=422 if form.errors else 200)
