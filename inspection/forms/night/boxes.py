"""Forms of the caliper boxes."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.models import Block
from inventory.forms.base import PageForm
from inventory.forms.gauge_choice import add_to_help, not_offered
from inventory.loaders.gauges import LoadedGauge, may_be_chosen


class BoxForm(PageForm):
    """What a box is called, and which gauge it reads."""

    name = forms.CharField(
        label=_("Name"), max_length=40, help_text=_("As it is written on it.")
    )
    gauge = forms.TypedChoiceField(label=_("Gauge that it reads"), coerce=int)

    def __init__(self, data: Any = None, *, gauges: list[LoadedGauge]) -> None:
        super().__init__(data)
        self.gauges = {one.mode.pk: one for one in may_be_chosen(gauges)}
        self.fields["gauge"].choices = [  # type: ignore[attr-defined]
            (pk, str(one.mode)) for pk, one in self.gauges.items()
        ]
        add_to_help(self.fields["gauge"], not_offered(gauges))

    @property
    def chosen_gauge(self) -> LoadedGauge:
        return self.gauges[self.cleaned_data["gauge"]]


class PutBoxForm(PageForm):
    """Where a box is put."""

    block = forms.ModelChoiceField(
        Block.objects.filter(is_in_use=True).order_by("name"),
        label=_("Block"),
        empty_label=None,
    )
