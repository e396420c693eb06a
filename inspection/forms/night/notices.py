"""The form of a notice."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.night import NoticeKind
from inventory.forms.base import PageForm
from inventory.words.enumerations import word_choices


class NoticeForm(PageForm):
    """Some words for the wall."""

    text = forms.CharField(
        label=_("What it says"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    kind = forms.ChoiceField(
        label=_("Where it stands"),
        choices=word_choices(NoticeKind),
        initial=NoticeKind.NOTICE,
        widget=forms.RadioSelect,
    )
