"""One tyre at the caliper: a field a reading, in the order they are taken."""

import secrets
import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.compute.batches import BatchReading, BatchRow
from inventory.compute.numbers import (
    KnownOf,
    NumberError,
    TypedNumber,
    Unit,
    find_strange_in,
    parse_reading,
)
from inventory.compute.stock import PartQuantity, Section
from inventory.files.columns import PLAUSIBLE_MM
from inventory.forms.base import PageForm
from inventory.forms.gauge_choice import offer_gauges
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Batch
from inventory.words.numbers import error_words
from inventory.words.strange import question_words

_READING = {"inputmode": "decimal", "class": "number-input", "autocomplete": "off"}


class BenchTyreForm(PageForm):
    """The readings of one tyre, and the gauge that they are taken with."""

    gauge = forms.TypedChoiceField(label=_("Gauge"), coerce=int)
    name = forms.CharField(
        label=_("Written on it"), required=False, max_length=80, help_text=""
    )
    right = forms.BooleanField(
        label=_("The readings are right as they stand"), required=False
    )
    sent_id = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self, data: Any = None, *, batch: Batch, gauges: list[LoadedGauge]
    ) -> None:
        super().__init__(data)
        self.batch = batch
        self.gauges = offer_gauges(self.fields["gauge"], gauges)
        self.fields["gauge"].initial = batch.gauge_mode_id
        self.fields["sent_id"].initial = new_id
        self.sections = (
            (Section.INNER, Section.OUTER) if batch.at_edges else (Section.MIDDLE,)
        )
        for section in self.sections:
            for angle in range(1, batch.reading_count + 1):
                self.fields[f"{section}{angle}"] = forms.CharField(
                    label=f"{section.capitalize()} {angle}",
                    max_length=40,
                    widget=forms.TextInput(attrs=_READING),
                )
        self.readings: list[BatchReading] = []
        self.is_doubted = False

    def reading_fields(self) -> list[tuple[Section, list[forms.BoundField]]]:
        """Give the fields by section, as they stand in rows."""
        count = self.batch.reading_count
        return [
            (section, [self[f"{section}{angle}"] for angle in range(1, count + 1)])
            for section in self.sections
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for section in self.sections:
            self._take_section(section, is_sure=cleaned.get("right", False))
        return cleaned

    @property
    def chosen_gauge(self) -> LoadedGauge:
        return self.gauges[self.cleaned_data["gauge"]]

    def row(self, number: int) -> BatchRow:
        name = self.cleaned_data["name"]
        return BatchRow(
            number=number,
            tag="",
            readings=tuple(self.readings),
            words={"name": name} if name else {},
        )

    def _take_section(self, section: Section, *, is_sure: bool) -> None:
        """Take what was read round the tyre at one place across it, as one set."""
        names = [
            f"{section}{angle}" for angle in range(1, self.batch.reading_count + 1)
        ]
        numbers = {name: self._number(name) for name in names}
        read = {name: one for name, one in numbers.items() if one is not None}
        odd = find_strange_in(
            [one.value for one in read.values()],
            plausible=PLAUSIBLE_MM,
            of=KnownOf.ANOTHER_OF_TYRE,
        )
        for place, (name, number) in enumerate(read.items()):
            if place in odd and not is_sure:
                self.is_doubted = True
                text = question_words(odd[place], number.text)
                self.add_error(name, forms.ValidationError(text, code="strange"))
                continue
            self.readings.append(
                BatchReading(
                    quantity=PartQuantity.TYRE_DIAMETER,
                    section=section,
                    millionths=number.millionths,
                    text=number.text,
                    mark=number.mark,
                )
            )

    def _number(self, name: str) -> TypedNumber | None:
        if name not in self.cleaned_data:
            return None
        try:
            number = parse_reading(self.cleaned_data[name], unit=Unit.MILLIMETRE)
        except NumberError as error:
            self.add_error(
                name, forms.ValidationError(error_words(error), code=error.code)
            )
            return None
        if number.millionths <= 0:
            self.add_error(name, _("A size is above 0."))
            return None
        return number


def new_id() -> uuid.UUID:
    """Give a form an id, so that the same tyre sent twice is one."""
    return uuid.UUID(bytes=secrets.token_bytes(16), version=4)
