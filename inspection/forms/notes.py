"""Forms of what is noted of a car: words with a picture, and motor seals."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.base import PageForm


class NoteForm(PageForm):
    """What is noted on a sheet; the file is read by the action."""

    text = forms.CharField(
        label=_("What is noted"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    picture = forms.FileField(
        label=_("Picture, if one helps"),
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
        help_text=_(
            "It is kept small, and without the place and the time that a phone writes "
            "into it."
        ),
    )

    def picture_bytes(self) -> bytes | None:
        file: Any = self.cleaned_data["picture"]
        return file.read() if file else None


class MotorSealForm(PageForm):
    """A seal that was put on a motor."""

    number = forms.CharField(
        label=_("Number of the seal"),
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "short"}),
    )
