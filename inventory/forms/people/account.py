"""Forms of one's own account."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.base import PageForm


class FirstCodeForm(PageForm):
    """The first code of a phone, which shows that it was told the secret."""

    code = forms.CharField(
        label=_("Code that the phone shows"),
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}
        ),
    )
