"""Forms of the people page."""

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from inventory.compute.roles import Role
from inventory.forms.base import PageForm
from inventory.models import Person
from inventory.models.words import choices_of


class NewPersonForm(PageForm):
    """A person who joins; the password is theirs to change at once."""

    name = forms.CharField(label=_("Name"), max_length=80)
    sign_in_name = forms.CharField(label=_("Sign-in name"), max_length=40)
    password = forms.CharField(
        label=_("First password"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("Twelve characters or more; hand it over, they change it."),
    )
    roles = forms.MultipleChoiceField(
        label=_("Roles"),
        choices=choices_of(Role),
        widget=forms.CheckboxSelectMultiple,
        initial=[Role.MEMBER],
    )

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        validate_password(
            password,
            Person(
                name=self.cleaned_data.get("name", ""),
                sign_in_name=self.cleaned_data.get("sign_in_name", ""),
            ),
        )
        return password
