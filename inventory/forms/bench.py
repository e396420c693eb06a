"""One tyre at the caliper: a field a reading, in the order they are taken."""

import secrets
import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.compute.batch_rows import BatchReading, BatchRow, PartWord
from inventory.compute.stock import PartQuantity, Section
from inventory.compute.suspects import slip_of_the_decimal
from inventory.compute.units import NumberError, Unit, format_value, parse_reading
from inventory.files.columns import PLAUSIBLE_MM
from inventory.forms.base import PageForm
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Batch

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
        self.gauges = {one.mode.pk: one for one in gauges}
        self.fields["gauge"].choices = [  # type: ignore[attr-defined]
            (one.mode.pk, f"{one.mode} — {one.standing}") for one in gauges
        ]
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
        said = super().clean() or {}
        for section in self.sections:
            for angle in range(1, self.batch.reading_count + 1):
                name = f"{section}{angle}"
                if name in said:
                    self._take(name, section, said[name], is_sure=said.get("right"))
        return said

    @property
    def chosen_gauge(self) -> LoadedGauge:
        return self.gauges[self.cleaned_data["gauge"]]

    def row(self, number: int) -> BatchRow:
        name = self.cleaned_data["name"]
        return BatchRow(
            number=number,
            tag="",
            readings=tuple(self.readings),
            words={PartWord.NAME: name} if name else {},
        )

    def _take(
        self, name: str, section: Section, text: str, *, is_sure: bool | None
    ) -> None:
        try:
            number = parse_reading(text, unit=Unit.MILLIMETRE)
        except NumberError as error:
            self.add_error(name, forms.ValidationError(str(error), code=error.code))
            return
        if number.millionths <= 0:
            self.add_error(name, _("A size is above 0."))
            return
        low, high = PLAUSIBLE_MM
        if not low <= number.value <= high and not is_sure:
            self.is_doubted = True
            self.add_error(name, _doubt(text, number.value))
            return
        self.readings.append(
            BatchReading(
                quantity=PartQuantity.TYRE_DIAMETER,
                section=section,
                millionths=number.millionths,
                text=number.text,
                mark=number.mark,
            )
        )


def new_id() -> uuid.UUID:
    """Give a form an id, so that the same tyre sent twice is one."""
    return uuid.UUID(bytes=secrets.token_bytes(16), version=4)


def _doubt(text: str, value_mm: float) -> str:
    low, high = PLAUSIBLE_MM
    meant = slip_of_the_decimal(value_mm, low=low, high=high)
    asked = _("“%(typed)s” would be %(value)s; expected %(low)g to %(high)g mm.") % {
        "typed": text,
        "value": format_value(value_mm, decimals=2, unit=Unit.MILLIMETRE),
        "low": low,
        "high": high,
    }
    if meant is None:
        return asked
    meant_text = format_value(meant, decimals=2, unit=Unit.MILLIMETRE)
    return asked + " " + _("%(meant)s perhaps?") % {"meant": meant_text}
