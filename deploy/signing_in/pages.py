"""Signing in by password and, where there is one, a second factor; a new password."""

import time
from typing import Any, Final

from django import forms
from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods
from django_otp import login as keep_factor

from deploy.signing_in.throttle import client_address
from inventory.access import open_to_all
from inventory.actions.people.second_factor import (
    check_second_factor,
    second_factor_of,
)
from inventory.actions.people.sign_in import (
    record_password_change,
    record_wrong_code,
)
from inventory.actions.refusals import RefusedError
from inventory.forms.base import PageForm
from inventory.models import Person
from inventory.views.acts import act_of, form_page

_BACKEND: Final = "django.contrib.auth.backends.ModelBackend"
#: Who typed the right password, kept while the code is asked for.
PENDING: Final = "pending_sign_in"
PENDING_S: Final = 10 * 60


class SignInForm(AuthenticationForm):
    """A name and a password, in the words of the other pages."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["username"].label = _("Sign-in name")
        wrong = _(
            "That sign-in name and that password do not go together. Small and large "
            "letters differ in a password."
        )
        self.error_messages = {**self.error_messages, "invalid_login": wrong}


class SignIn(LoginView):
    """Ask for name and password; let in, or ask for the second factor."""

    authentication_form = SignInForm
    template_name = "registration/sign_in.html"
    redirect_authenticated_user = True

    def form_valid(self, form: Any) -> HttpResponse:
        person: Person = form.get_user()
        if second_factor_of(person) is None:
            return super().form_valid(form)
        self.request.session[PENDING] = {
            "person": person.pk,
            "password": person.get_session_auth_hash(),
            "until": time.time() + PENDING_S,
            "next": self.get_redirect_url(),
        }
        return redirect("sign_in_code")


class CodeForm(PageForm):
    code = forms.CharField(
        label=_("Code"),
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autofocus": True}
        ),
        help_text=_("The six digits that your phone shows, or a recovery code."),
    )


@never_cache
@require_http_methods(["GET", "POST"])
@open_to_all
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """Ask for the second factor of whoever typed the right password just now."""
    pending: dict[str, Any] = request.session.get(PENDING, {})
    person = still_pending(pending)
    if person is None:
        request.session.pop(PENDING, None)
        return redirect("sign_in")
    form = CodeForm(request.POST or None)
    if form.is_valid():
        try:
            device = check_second_factor(person, form.cleaned_data["code"])
        except RefusedError as refusal:
            form.refuse(refusal)
            address = client_address(request)
            record_wrong_code(person, at=timezone.now(), address=address)
        else:
            del request.session[PENDING]
            login(request, person, backend=_BACKEND)
            keep_factor(request, device)
            return redirect(pending["next"] or resolve_url(settings.LOGIN_REDIRECT_URL))
    return form_page(
        request,
        form,
        "registration/sign_in_code.html",
    )


def still_pending(pending: dict[str, Any]) -> Person | None:
    """Give the person, unless it took too long or something changed meanwhile."""
    kept: int = pending.get("person", 0)
    person = Person.objects.active().filter(pk=kept).first()
    if person is None or time.time() > pending["until"]:
        return None
    is_same = person.get_session_auth_hash() == pending["password"]
    return person if is_same else None


class ChangePassword(PasswordChangeView):
    """Change it, sign every other device out, and note that it was changed."""

    template_name = "registration/password_change.html"
    success_url = "/password/changed"

    def form_valid(self, form: Any) -> HttpResponse:
        with transaction.atomic():
            answer = super().form_valid(form)
            record_password_change(act=act_of(self.request))
        return answer
