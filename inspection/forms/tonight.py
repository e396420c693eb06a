"""Forms beside the board."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.recheck import Area
from inspection.models import Block
from inventory.forms.base import PageForm


class OnTheBlockForm(PageForm):
    """Which block, and at a re-check what was changed since the last sheet."""

    block = forms.ModelChoiceField(
        Block.objects.order_by("name"), label=_("Block"), required=False
    )
    changed = forms.MultipleChoiceField(
        label=_("Changed or adjusted since the last sheet"),
        choices=[(area.value, area.value) for area in Area],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("What is ticked is measured again; the rest carries over."),
    )

    def __init__(
        self, data: Any = None, *, is_recheck: bool, block_id: int | None
    ) -> None:
        super().__init__(data, initial={"block": block_id})
        if not is_recheck:
            del self.fields["changed"]

    @property
    def areas(self) -> frozenset[Area]:
        return frozenset(Area(word) for word in self.cleaned_data.get("changed", ()))


class ReasonForm(PageForm):
    """A reason that goes into the record."""

    reason = forms.CharField(label=_("Reason"), max_length=200)
