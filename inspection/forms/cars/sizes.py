"""The form of a car's sizes: whatever a question about the car rests on."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.fit import NeedKind
from inspection.compute.quantities import QUANTITIES, column_owner
from inspection.forms.fit.questions import room_field
from inspection.loaders.cars.sizes import Known
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import parse_reading, slip_of_the_decimal
from inventory.forms.base import PageForm
from inventory.forms.gauge_choice import add_to_help, not_offered
from inventory.loaders.gauges import LoadedGauge, may_be_chosen
from inventory.words.enumerations import word_choices
from inventory.words.numbers import error_words

NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class SizesForm(PageForm):
    """Sizes of a car, a field each; what is left empty stays as it was."""

    gauge = forms.TypedChoiceField(
        label=_("Gauge"),
        coerce=int,
        empty_value=None,
        required=False,
        help_text=_("Empty: declared, not measured here."),
    )
    right = forms.BooleanField(
        label=_("The sizes are right as they stand"), required=False
    )

    def __init__(
        self, data: Any = None, *, sizes: Sequence[Known], gauges: list[LoadedGauge]
    ) -> None:
        room = {
            one.need.name: one.text
            for one in sizes
            if one.need.kind is NeedKind.ROOM and one.text
        }
        super().__init__(data, initial=room)
        self.sizes = sizes
        self.is_doubted = False
        self.gauges = {one.mode.pk: one for one in may_be_chosen(gauges)}
        self.fields["gauge"].choices = [  # type: ignore[attr-defined]
            ("", _("declared")),
            *((pk, str(one.mode)) for pk, one in self.gauges.items()),
        ]
        add_to_help(self.fields["gauge"], not_offered(gauges))
        for one in sizes:
            self.fields[one.need.name] = _field(one)

    def clean(self) -> None:
        super().clean()
        for column, text in self.columns().items():
            if column not in self.errors and not self.cleaned_data.get("right"):
                self._doubt(column, text)

    def _doubt(self, column: str, text: str) -> None:
        """Ask about a size that the quantity cannot well have."""
        quantity = QUANTITIES[column_owner(column)[0]]
        if quantity.words is not None:
            return
        try:
            value = parse_reading(text, unit=quantity.unit).value
        except ComputeError as error:
            self.add_error(
                column, forms.ValidationError(error_words(error), code=error.code)
            )
            return
        low, high = quantity.low, quantity.high
        if low <= value <= high:
            return
        self.is_doubted = True
        message = _(
            "“%(text)s” was typed; %(low)s to %(high)s %(unit)s was expected."
        ) % {
            "text": text,
            "low": f"{low:g}",
            "high": f"{high:g}",
            "unit": quantity.unit,
        }
        meant = slip_of_the_decimal(value, low=low, high=high)
        if meant is not None:
            message = _("%(said)s Was %(meant)s %(unit)s meant?") % {
                "said": message,
                "meant": f"{meant:g}",
                "unit": quantity.unit,
            }
        self.add_error(column, forms.ValidationError(message, code="implausible"))

    def columns(self) -> dict[str, str]:
        """Give what was typed of the car's own sizes, column by column."""
        return self._typed(NeedKind.COLUMN)

    def room(self) -> dict[str, str]:
        """Give what was typed of the room for parts, size by size."""
        return self._typed(NeedKind.ROOM)

    def _typed(self, kind: NeedKind) -> dict[str, str]:
        names = [one.need.name for one in self.sizes if one.need.kind is kind]
        texts = {name: str(self.data.get(name, "")).strip() for name in names}
        return {name: text for name, text in texts.items() if text}

    @property
    def chosen_gauge(self) -> LoadedGauge | None:
        """The gauge that the sizes were read with; nothing where they are declared."""
        return self.gauges.get(self.cleaned_data["gauge"])


def _field(size: Known) -> forms.Field:
    name = size.need.name
    if size.need.kind is NeedKind.ROOM:
        return room_field(name, size.label)
    quantity = QUANTITIES[column_owner(name)[0]]
    if quantity.words is not None:
        return forms.ChoiceField(
            label=size.label,
            choices=[("", "–"), *word_choices(quantity.words)],
            required=False,
            help_text=size.how,
        )
    return forms.CharField(
        label=size.label,
        max_length=40,
        required=False,
        help_text=size.how,
        widget=forms.TextInput(attrs=NUMBER),
    )


def unit_of(size: Known) -> str:
    """Give the unit beside the field of a size."""
    if size.need.kind is NeedKind.ROOM:
        return "mm"
    quantity = QUANTITIES[column_owner(size.need.name)[0]]
    is_word = quantity.words is not None
    return "" if is_word or quantity.unit == "1" else str(quantity.unit)
