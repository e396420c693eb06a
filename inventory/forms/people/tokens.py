"""The form of a token."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.compute.tokens import ABILITIES_OF_SCOPE, MOST_DAYS, USUAL_DAYS, Scope
from inventory.forms.base import PageForm
from inventory.models import Person

WORDS = {
    Scope.READ: _("read, nothing else"),
    Scope.READINGS: _("read, and take readings on the block"),
    Scope.PARTS: _("read, and keep parts and gauges"),
    Scope.ALL: _("all that you may do"),
}


class TokenForm(PageForm):
    """What a token is called, what for, and how long it is good."""

    name = forms.CharField(
        label=_("Name"),
        max_length=60,
        help_text=_("What asks with it: the script or the device."),
    )
    scope = forms.ChoiceField(
        label=_("What for"),
        widget=forms.RadioSelect,
        initial=Scope.READ.value,
        help_text=_("Never more than you may do yourself at that moment."),
    )
    days = forms.IntegerField(
        label=_("Good for (days)"),
        min_value=1,
        max_value=MOST_DAYS,
        initial=USUAL_DAYS,
        widget=forms.TextInput(
            attrs={"inputmode": "numeric", "class": "number-input short"}
        ),
    )

    def __init__(self, data: Any = None, *, person: Person) -> None:
        super().__init__(data)
        self.fields["scope"].choices = [  # type: ignore[attr-defined]
            (scope.value, words)
            for scope, words in WORDS.items()
            if any(person.may(one) for one in ABILITIES_OF_SCOPE[scope])
        ]
