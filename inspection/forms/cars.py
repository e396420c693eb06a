"""Forms of the cars pages."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.actions.cars import CarFacts
from inspection.compute.quantities import FrontCarrier, Layout, column_owner
from inspection.loaders.sheets import quantity_of
from inspection.loaders.values import ColumnValue
from inspection.models import RaceClass
from inventory.forms.base import PageForm
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Person
from inventory.models.words import choices_of

NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class NewCarForm(PageForm):
    """A member's car."""

    number = forms.CharField(label=_("Number on the car"), max_length=8)
    name = forms.CharField(label=_("Name"), max_length=60)
    race_class = forms.ModelChoiceField(RaceClass.objects.all(), label=_("Class"))
    layout = forms.ChoiceField(label=_("Motor"), choices=choices_of(Layout))
    front_carrier = forms.ChoiceField(
        label=_("What carries the front"), choices=choices_of(FrontCarrier)
    )

    def clean_number(self) -> str:
        number: str = self.cleaned_data["number"].strip()
        if not number.isalnum():
            msg = _("“%(number)s” is no number of a car; letters and digits make one.")
            raise forms.ValidationError(msg, params={"number": number})
        return number

    def facts(self, owner: Person) -> CarFacts:
        said = self.cleaned_data
        return CarFacts(
            number=said["number"],
            name=said["name"],
            owner=owner,
            race_class=said["race_class"],
            layout=Layout(said["layout"]),
            front_carrier=FrontCarrier(said["front_carrier"]),
        )


class GeometryForm(PageForm):
    """A car's stored geometry, a field a column; what is left alone stays."""

    gauge = forms.TypedChoiceField(
        label=_("Gauge"),
        coerce=int,
        empty_value=None,
        required=False,
        help_text=_("Empty: declared, not measured here."),
    )

    def __init__(
        self,
        data: Any = None,
        *,
        columns: tuple[str, ...],
        values: dict[str, ColumnValue],
        gauges: list[LoadedGauge],
    ) -> None:
        super().__init__(data)
        self.columns = columns
        self.gauges = {one.mode.pk: one for one in gauges if not one.is_barred}
        self.fields["gauge"].choices = [  # type: ignore[attr-defined]
            ("", _("declared")),
            *((pk, str(one.mode)) for pk, one in self.gauges.items()),
        ]
        for column in columns:
            self.fields[column] = _field(column, values.get(column))

    def texts(self) -> dict[str, str]:
        """Give what was typed, column by column."""
        said = self.cleaned_data
        return {column: said[column] for column in self.columns if said.get(column)}

    @property
    def chosen_gauge(self) -> LoadedGauge | None:
        return self.gauges.get(self.cleaned_data["gauge"])


def _field(column: str, value: ColumnValue | None) -> forms.Field:
    quantity, (_key, side) = quantity_of(column), column_owner(column)
    label = f"{quantity.label}, {side}" if side else quantity.label
    now = f"{quantity.how} ({value.text})" if value else quantity.how
    if quantity.words is not None:
        return forms.ChoiceField(
            label=label,
            choices=[("", "–"), *choices_of(quantity.words)],
            required=False,
            help_text=now,
        )
    return forms.CharField(
        label=label,
        max_length=40,
        required=False,
        help_text=now,
        widget=forms.TextInput(attrs=NUMBER),
    )
