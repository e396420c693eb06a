"""Bringing a whole club in: the file, and who comes in first."""

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from inspection.actions.moving.bringing_in import FirstIn
from inventory.forms.base import PageForm
from inventory.models import Person


class BringInForm(PageForm):
    """An archive, an admin that is in it, and a new password for them."""

    file = forms.FileField(
        label=_("Archive"),
        help_text=_("The ZIP that “Take the club out” gave, up to 20 MB here."),
    )
    sign_in_name = forms.CharField(
        label=_("Your sign-in name"),
        max_length=40,
        help_text=_("That of an admin of the club in the archive."),
    )
    password = forms.CharField(
        label=_("New password"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("Twelve characters or more; passwords are not in the archive."),
    )

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        named = Person(sign_in_name=self.cleaned_data.get("sign_in_name", ""))
        validate_password(password, named)
        return password

    def first_in(self) -> FirstIn:
        return FirstIn(
            sign_in_name=self.cleaned_data["sign_in_name"],
            password=self.cleaned_data["password"],
        )
