"""One's own account: password, devices that are signed in, second factor, data."""

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)
from django_otp import login as keep_factor

from inventory.access import allow, signed_in
from inventory.actions.people.second_factor import (
    begin_second_factor,
    codes_left,
    confirm_second_factor,
    renew_recovery_codes,
    second_factor_of,
    take_second_factor,
)
from inventory.actions.people.sessions import end_other_sessions, end_session
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import ROLES_WITH_SECOND_FACTOR, Ability
from inventory.drawing.codes import draw_code
from inventory.forms.people.account import FirstCodeForm
from inventory.loaders.second_factor import begun_factor, grouped_secret
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.people.person import data_answer, erasing_page


@never_cache
@require_GET
@allow(Ability.LOOK)
def own_account(request: HttpRequest) -> HttpResponse:
    """Show what is one's own."""
    person = signed_in(request)
    now = timezone.now()
    sessions = person.sessions.filter(expire_date__gt=now).order_by("-began_at")
    context = {
        "person": person,
        "grants": person.grants.select_related("granted_by").order_by("role"),
        "sessions": sessions,
        "here": request.session.session_key,
        "has_second_factor": second_factor_of(person) is not None,
        "codes_left": codes_left(person),
        "token_count": person.tokens.in_use(now).count(),
    }
    return render(request, "inventory/people/own_account.html", context)


@require_POST
@allow(Ability.LOOK)
def end_one(request: HttpRequest, mark: str) -> HttpResponse:
    """End the session of one device."""
    with refusals_told(request):
        end_session(mark, act=act_of(request))
        messages.success(request, _("Signed out there."))
    return redirect("inventory:own_account")


@require_POST
@allow(Ability.LOOK)
def end_others(request: HttpRequest) -> HttpResponse:
    """End the sessions of all other devices."""
    here = request.session.session_key or ""
    end_other_sessions(here, act=act_of(request))
    messages.success(request, _("Every other device is signed out."))
    return redirect("inventory:own_account")


@never_cache
@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def second_factor(request: HttpRequest) -> HttpResponse:
    """Offer a second factor: begin, confirm, renew codes, take away."""
    deed = request.POST.get("deed", "")
    act = act_of(request)
    form = FirstCodeForm(request.POST if deed == "confirm" else None)
    codes: list[str] = []
    try:
        if deed == "begin":
            begin_second_factor(act=act)
        elif deed == "renew":
            codes = renew_recovery_codes(act=act)
        elif deed == "take":
            take_second_factor(act.by, act=act)
            messages.success(request, _("Your password alone lets you in from now on."))
            return redirect("inventory:own_account")
        elif form.is_valid():
            codes = confirm_second_factor(form.cleaned_data["code"], act=act)
            keep_factor(request, second_factor_of(act.by))
    except RefusedError as refusal:
        if form.is_bound:
            form.refuse(refusal)
        else:
            messages.error(request, refusal.sentence)
    return _second_factor_page(request, form, codes)


def _second_factor_page(
    request: HttpRequest, form: FirstCodeForm, codes: list[str]
) -> HttpResponse:
    person = signed_in(request)
    device = second_factor_of(person)
    begun = None if device else begun_factor(person)
    words = _("Code for the phone’s authenticator")
    context = {
        "form": form,
        "codes": codes,
        "has_one": device is not None,
        "is_asked": settings.SECOND_FACTOR_ASKED
        and not person.roles.isdisjoint(ROLES_WITH_SECOND_FACTOR),
        "begun": begun,
        "qr": mark_safe(draw_code(begun.config_url, words=words)) if begun else "",  # noqa: S308
        "secret": grouped_secret(begun.bin_key) if begun else "",
    }
    return form_page(
        request,
        form,
        "inventory/people/second_factor.html",
        context,
    )


@require_GET
@allow(Ability.LOOK)
def own_data(request: HttpRequest) -> HttpResponse:
    """Give all that names oneself as a file."""
    return data_answer(request, signed_in(request))


@require_http_methods(["GET", "POST"])
@allow(Ability.LOOK)
def erase_own(request: HttpRequest) -> HttpResponse:
    """Say what being erased means, and do it."""
    return erasing_page(request, signed_in(request))
