"""The box in the head of every page."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.forms.base import PageForm


class FindForm(PageForm):
    """What is looked for: typed, or as a label's code says it."""

    q = forms.CharField(label=_("Find"), required=False, max_length=300)

    @property
    def text(self) -> str:
        """What was asked; nothing where it is too long."""
        return str(self.cleaned_data["q"]) if self.is_valid() else ""
