"""Forms of the people page."""

from collections.abc import Callable
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from inventory.compute.roles import Role
from inventory.compute.sign_in_names import LONGEST
from inventory.forms.base import PageForm
from inventory.forms.pick import PickField
from inventory.loaders.people import holders_first, people_called, people_of_name
from inventory.models import Person
from inventory.words.enumerations import word_choices


class PersonField(PickField[Person]):
    """Somebody of the club, by name."""

    default_error_messages: ClassVar = {
        "unknown": _("Nobody here is called “%(typed)s”: a person's name is expected."),
        "several": _(
            "“%(typed)s” is several people's name: %(which)s. "
            "Type what stands in brackets."
        ),
    }

    def __init__(
        self,
        *,
        offered: Callable[[], QuerySet[Person]] = holders_first,
        **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self.widget.offered = lambda: offered().values_list("name", flat=True)

    def find(self, text: str) -> list[Person]:
        return people_called(text)

    def full_name(self, row: Person) -> str:
        return f"{row.name} ({row.sign_in_name})"


class WithPasswordForm(PageForm):
    """A name, a sign-in name, and a password that is none of its own words."""

    name = forms.CharField(label=_("Name"), max_length=80)
    sign_in_name = forms.CharField(
        label=_("Sign-in name"),
        max_length=LONGEST,
        help_text=_("Plain small letters, such as ada or ada.wren."),
        widget=forms.TextInput(
            attrs={"autocapitalize": "none", "autocomplete": "username"}
        ),
    )
    password = forms.CharField(
        label=_("First password"),
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=_("Twelve characters or more; hand it over, they change it."),
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


class NamedPersonForm(PageForm):
    """Somebody new; asked about where somebody here has the same name."""

    is_another = forms.BooleanField(
        label=_("Another person of the same name"),
        required=False,
        widget=forms.HiddenInput,
    )

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean() or {}
        namesakes = people_of_name(cleaned.get("name", ""))
        if namesakes:
            self.fields["is_another"].widget = forms.CheckboxInput()
            if not cleaned.get("is_another"):
                self.add_error("name", self._asking(namesakes))
        return cleaned

    @staticmethod
    def _asking(namesakes: list[Person]) -> forms.ValidationError:
        return forms.ValidationError(
            _(
                "%(name)s is here already, as %(which)s. If this is somebody else, "
                "tick “Another person of the same name”, or write the name so that "
                "both can be told apart."
            ),
            code="namesake",
            params={
                "name": namesakes[0].name,
                "which": ", ".join(one.sign_in_name for one in namesakes),
            },
        )


def roles_field() -> forms.MultipleChoiceField:
    """Ask which roles somebody has."""
    return forms.MultipleChoiceField(
        label=_("Roles"),
        choices=word_choices(Role),
        widget=forms.CheckboxSelectMultiple,
        initial=[Role.MEMBER],
    )


class NewPersonForm(WithPasswordForm, NamedPersonForm):
    """A person who joins; the password is theirs to change at once."""

    roles = roles_field()
    field_order = ("name", "is_another", "sign_in_name", "password", "roles")


class GiveRoleForm(PageForm):
    """A role that somebody has not yet."""

    role = forms.TypedChoiceField(label=_("Role"), coerce=Role)

    def __init__(self, data: Any = None, *, person: Person) -> None:
        super().__init__(data)
        held = person.roles
        self.fields["role"].choices = [  # type: ignore[attr-defined]
            (role.value, role.value) for role in Role if role not in held
        ]


class ErasingForm(PageForm):
    """The sign-in name, typed once more: what is erased does not come back."""

    sign_in_name = forms.CharField(label=_("Sign-in name, once more"), max_length=40)

    def __init__(self, data: Any = None, *, person: Person) -> None:
        super().__init__(data)
        self.person = person

    def clean_sign_in_name(self) -> str:
        typed: str = self.cleaned_data["sign_in_name"].strip()
        if typed.lower() != self.person.sign_in_name.lower():
            raise forms.ValidationError(
                _("“%(typed)s”: %(name)s was expected, to be sure."),
                code="other_name",
                params={"typed": typed, "name": self.person.sign_in_name},
            )
        return typed


class FamilyForm(PageForm):
    """Two people who are family of each other."""

    one = PersonField(label=_("Somebody"))
    other = PersonField(label=_("is family of"))
