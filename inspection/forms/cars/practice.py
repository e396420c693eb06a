"""The form of a practice check: any figure of a car, none of it kept."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.forms.cars.sizes import NUMBER
from inspection.loaders.block.sheets import quantity_of
from inspection.loaders.block.values import ColumnValue
from inspection.loaders.cars.practice import takes_words
from inspection.words.quantities import column_name
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import from_millionths, parse_reading
from inventory.forms.base import PageForm
from inventory.words.enumerations import word_choices
from inventory.words.numbers import error_words


class PracticeForm(PageForm):
    """A field a column; what is left empty is as it is known."""

    def __init__(
        self,
        data: Any = None,
        *,
        columns: tuple[str, ...],
        values: dict[str, ColumnValue],
    ) -> None:
        super().__init__(data)
        self.columns = columns
        for column in columns:
            self.fields[column] = _field(column, values.get(column))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.typed: dict[str, float] = {}
        for column in self.columns:
            if text := cleaned.get(column):
                self._read(column, text)
        return cleaned

    def _read(self, column: str, text: str) -> None:
        if takes_words(column):
            self.typed[column] = float(text)
            return
        try:
            value = parse_reading(text, unit=quantity_of(column).unit).millionths
        except ComputeError as error:
            self.add_error(column, error_words(error))
        else:
            self.typed[column] = from_millionths(value)


def _field(column: str, value: ColumnValue | None) -> forms.Field:
    quantity, label = quantity_of(column), column_name(column)
    known = value.text if value else _("not known")
    if not takes_words(column):
        return forms.CharField(
            label=label,
            max_length=40,
            required=False,
            help_text=known,
            widget=forms.TextInput(attrs=NUMBER),
        )
    choices: list[tuple[str, Any]]
    if quantity.words is None:
        choices = [("1", _("yes")), ("0", _("no"))]
    else:
        words = word_choices(quantity.words)
        choices = [(str(place), word) for place, (_value, word) in enumerate(words)]
    return forms.ChoiceField(
        label=label, choices=[("", "–"), *choices], required=False, help_text=known
    )
