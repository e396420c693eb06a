"""Forms of links: whom to invite, and what whoever opens one says."""

from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from inventory.actions.people.links import Newcomer
from inventory.forms.base import PageForm
from inventory.forms.people.people import (
    NamedPersonForm,
    WithPasswordForm,
    roles_field,
)
from inventory.models import Person


class MailedForm(PageForm):
    """An address to send a link to, where the installation can send mail."""

    mail_to = forms.EmailField(
        label=_("Send it by mail to"),
        required=False,
        help_text=_(
            "Empty: shown on the next page, to be scanned or handed over. The "
            "address is not kept."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not settings.MAIL_IS_SET:
            del self.fields["mail_to"]


class InviteForm(MailedForm, NamedPersonForm):
    """Who is invited, and as what."""

    name = forms.CharField(label=_("Name"), max_length=80)
    roles = roles_field()
    field_order = ("name", "is_another", "roles", "mail_to")


class JoinForm(WithPasswordForm):
    """What whoever was invited says of themselves."""

    def __init__(self, data: Any = None, *, name: str) -> None:
        super().__init__(data, initial={"name": name})
        self.fields["name"].label = _("Your name")
        self.fields["password"].label = _("Password")
        self.fields["password"].help_text = _("Twelve characters or more.")

    def newcomer(self) -> Newcomer:
        return Newcomer(**self.cleaned_data)


class NewPasswordForm(PageForm):
    """A new password, for who has forgotten theirs."""

    password = forms.CharField(
        label=_("New password"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("Twelve characters or more."),
    )

    def __init__(self, data: Any = None, *, person: Person) -> None:
        super().__init__(data)
        self.person = person

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(password, self.person)
        return password
