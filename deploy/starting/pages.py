"""The page on which an admin leaves the demo for a club of one's own."""

from django import forms
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from deploy.starting.own_club import (
    change_to_own_club,
    is_demo_in_use,
    ready_own_club,
)
from inventory.access import allow
from inventory.actions.club import record_leaving
from inventory.compute.roles import Ability
from inventory.forms.base import PageForm
from inventory.views.acts import act_of


class LeaveDemoForm(PageForm):
    is_read = forms.BooleanField(
        label=_("Begin a club of our own, and leave the demo as it is"),
        error_messages={"required": _("Tick this if the demo is to be left.")},
    )


@require_http_methods(["GET", "POST"])
@allow(Ability.MANAGE_PEOPLE)
def own_club(request: HttpRequest) -> HttpResponse:
    """Say what leaving the demo means, and leave it."""
    form = LeaveDemoForm(request.POST or None)
    if form.is_valid():
        with form.refusing():
            if is_demo_in_use():
                return leave_demo(request)
    return render(
        request,
        "starting/own_club.html",
        {"form": form},
        status=422 if request.method == "POST" else 200,
    )


def leave_demo(request: HttpRequest) -> HttpResponse:
    """Change the file, and go where the new club begins or is signed in to."""
    code = ready_own_club()
    record_leaving(act=act_of(request))
    # The session belongs to the demo's file, and ends in it.
    logout(request)
    change_to_own_club()
    return redirect("inventory:begin", code) if code else redirect("sign_in")
