"""Forms of drawers and their stocktakes."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.base import PageForm


class LayForm(PageForm):
    """Into which drawer parts are laid."""

    drawer = forms.CharField(label=_("Into drawer"), max_length=40)


class StartForm(PageForm):
    """Which drawer is counted."""

    drawer = forms.CharField(label=_("Drawer"), max_length=40)


class SurplusForm(PageForm):
    """What else lies in the drawer, scanned or typed."""

    tags = forms.CharField(
        label=_("What else lies there"),
        required=False,
        max_length=4_000,
        help_text=_("Scan or type tags, a blank or a line between them."),
        widget=forms.Textarea(attrs={"rows": 2, "autocomplete": "off"}),
    )
