"""Links that are handed over: shown as a code, withdrawn, opened by their person."""

from typing import Final, cast

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from inventory.access import allow, open_to_all, visitor
from inventory.actions.people.links import (
    HandedCode,
    invite,
    join_by_link,
    make_password_link,
    open_link,
    set_password_by_link,
    withdraw_link,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.devices import device_words
from inventory.compute.handed_links import LinkKind
from inventory.compute.roles import Ability, Role
from inventory.drawing.codes import draw_code
from inventory.forms.people.links import (
    InviteForm,
    JoinForm,
    MailedForm,
    NewPasswordForm,
)
from inventory.models import HandedLink, Person
from inventory.views.acts import act_of, form_page, refusals_told
from inventory.views.addresses import is_only_here, printed_address
from inventory.views.people.mail import send_link

_BACKEND: Final = "django.contrib.auth.backends.ModelBackend"
#: The codes of the links that this browser made, so that their pages can be found
#: again; the database has their hashes alone.
_HANDED: Final = "handed_links"
_MOST_HANDED: Final = 20


@require_http_methods(["GET", "POST"])
@allow(Ability.MANAGE_PEOPLE)
def invite_person(request: HttpRequest) -> HttpResponse:
    """Make an invitation, and show its code or send it."""
    form = InviteForm(request.POST or None)
    if form.is_valid():
        cleaned = form.cleaned_data
        roles = [Role(word) for word in cleaned["roles"]]
        handed = invite(cleaned["name"], roles, act=act_of(request))
        return show_handed(request, handed, mail_to=cleaned.get("mail_to", ""))
    return form_page(
        request,
        form,
        "inventory/people/invite.html",
    )


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def password_link(request: HttpRequest, person_id: int) -> HttpResponse:
    """Make a link at which a person chooses a new password."""
    person = get_object_or_404(Person, pk=person_id)
    form = MailedForm(request.POST)
    if not form.is_valid():
        messages.error(request, " ".join(map(str, form.errors["mail_to"])))
        return redirect("inventory:person", person_id)
    try:
        handed = make_password_link(person, act=act_of(request))
    except RefusedError as refusal:
        messages.error(request, refusal.sentence)
        return redirect("inventory:person", person_id)
    return show_handed(request, handed, mail_to=form.cleaned_data.get("mail_to", ""))


def show_handed(
    request: HttpRequest, handed: HandedCode, *, mail_to: str
) -> HttpResponse:
    """Keep the code with the browser that made it, mail it if asked, show it."""
    kept = dict(request.session.get(_HANDED, {}))
    kept[str(handed.link.pk)] = handed.code
    request.session[_HANDED] = dict(list(kept.items())[-_MOST_HANDED:])
    if mail_to:
        fault = send_link(handed.link, address_of(request, handed.code), to=mail_to)
        if fault:
            messages.error(request, fault)
        else:
            messages.success(request, _("Sent to %(to)s.") % {"to": mail_to})
    return redirect("inventory:handed_link", handed.link.pk)


def address_of(request: HttpRequest, code: str) -> str:
    return printed_address(request, reverse("inventory:link", args=[code]))


@never_cache
@require_GET
@allow(Ability.MANAGE_PEOPLE)
def handed_link(request: HttpRequest, link_id: int) -> HttpResponse:
    """Show a link as a code to scan, while it is open and this browser made it."""
    links = HandedLink.objects.select_related("person").prefetch_related("roles")
    link = get_object_or_404(links, pk=link_id)
    now = timezone.now()
    is_over = link.used_at or link.withdrawn_at or now > link.good_until
    code = "" if is_over else request.session.get(_HANDED, {}).get(str(link_id), "")
    address = address_of(request, code) if code else ""
    words = _("Code that opens the link")
    context = {
        "link": link,
        "is_late": now > link.good_until,
        "address": address,
        "qr": mark_safe(draw_code(address, words=words)) if address else "",  # noqa: S308
        "is_only_here": bool(address) and is_only_here(address),
    }
    return render(request, "inventory/people/handed_link.html", context)


@require_POST
@allow(Ability.MANAGE_PEOPLE)
def withdraw(request: HttpRequest, link_id: int) -> HttpResponse:
    """Let a link work no more."""
    link = get_object_or_404(HandedLink, pk=link_id)
    with refusals_told(request):
        withdraw_link(link, act=act_of(request))
        messages.success(request, _("Withdrawn: it opens nothing any more."))
    return redirect("inventory:handed_link", link_id)


@never_cache
@require_http_methods(["GET", "POST"])
@open_to_all
def link(request: HttpRequest, code: str) -> HttpResponse:
    """Let whoever was handed a link use it."""
    reader = visitor(request)
    try:
        handed = open_link(code, at=timezone.now())
        if reader is not None:
            return render(request, "inventory/people/link_signed_in.html")
        if handed.kind == LinkKind.INVITATION:
            return join(request, code, handed)
        return new_password(request, code, cast("Person", handed.person))
    except RefusedError as refusal:
        context = {"sentence": refusal.sentence}
        return render(request, "inventory/people/no_link.html", context, status=404)


def join(request: HttpRequest, code: str, handed: HandedLink) -> HttpResponse:
    """Ask who it is, and let them in."""
    form = JoinForm(request.POST or None, name=handed.name)
    if form.is_valid():
        try:
            person = join_by_link(
                code, form.newcomer(), device=device_of(request), at=timezone.now()
            )
        except RefusedError as refusal:
            if not refusal.field:
                raise
            form.refuse(refusal)
        else:
            login(request, person, backend=_BACKEND)
            return redirect("/")
    return form_page(
        request,
        form,
        "inventory/people/join.html",
        {"link": handed},
    )


def new_password(request: HttpRequest, code: str, person: Person) -> HttpResponse:
    """Ask for the new password; it is signed in with on the next page."""
    form = NewPasswordForm(request.POST or None, person=person)
    if form.is_valid():
        set_password_by_link(
            code,
            form.cleaned_data["password"],
            device=device_of(request),
            at=timezone.now(),
        )
        messages.success(
            request,
            _("The new password is kept. Sign in as %(name)s.")
            % {"name": person.sign_in_name},
        )
        return redirect("sign_in")
    return form_page(
        request,
        form,
        "inventory/people/new_password.html",
        {"person": person},
    )


def device_of(request: HttpRequest) -> str:
    return device_words(request.META.get("HTTP_USER_AGENT", ""))
