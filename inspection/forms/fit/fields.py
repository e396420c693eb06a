"""Fields for sizes: as people type them, held to what is plausible."""

import math
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.actions.rooms import NOTHING_THERE
from inspection.compute.quantities import QUANTITIES
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import Unit, find_strange, parse_reading
from inventory.words.numbers import error_words

NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class SizeField(forms.CharField):
    """A length; its value is in millimetres, NaN where it was left out."""

    def __init__(self, *, low: float, high: float, **options: Any) -> None:
        self.low, self.high = low, high
        options.setdefault("required", False)
        super().__init__(max_length=40, widget=forms.TextInput(attrs=NUMBER), **options)

    def clean(self, value: Any) -> float:
        text = super().clean(value)
        return self.read(text) if text else math.nan

    def read(self, text: str) -> float:
        """Read what was typed, or say what was expected."""
        try:
            size = parse_reading(text, unit=Unit.MILLIMETRE).value
        except ComputeError as error:
            raise forms.ValidationError(error_words(error), code=error.code) from error
        odd = find_strange(size, plausible=(self.low, self.high))
        if odd is None:
            return size
        sentence = _("“%(typed)s” was typed; %(low)g to %(high)g mm was expected.")
        if odd.meant is not None:
            sentence = f"{sentence} " + _("Was %(meant)g mm meant?")
        raise forms.ValidationError(
            sentence,
            code="size_implausible",
            params={
                "typed": text,
                "low": self.low,
                "high": self.high,
                "meant": odd.meant,
            },
        )


class RoomField(SizeField):
    """A length that may be without end: “none”, where nothing is in the way."""

    def read(self, text: str) -> float:
        """Read what was typed; infinite for nothing there."""
        return math.inf if text.casefold() == NOTHING_THERE else super().read(text)


class TeethField(forms.CharField):
    """A count of teeth; nothing where it was left out."""

    def __init__(self, *, low: int, high: int, **options: Any) -> None:
        self.low, self.high = low, high
        options.setdefault("required", False)
        attrs = {**NUMBER, "inputmode": "numeric"}
        super().__init__(max_length=40, widget=forms.TextInput(attrs=attrs), **options)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        whole = int(text) if text.isascii() and text.isdecimal() else -1
        if self.low <= whole <= self.high:
            return whole
        raise forms.ValidationError(
            _(
                "“%(typed)s” was typed; a whole number of teeth, %(low)d to %(high)d, "
                "was expected."
            ),
            code="teeth_out_of_range",
            params={"typed": text, "low": self.low, "high": self.high},
        )


def size_of(key: str, **options: Any) -> SizeField:
    """Give a field for a quantity of the registry, held to its plausible range."""
    quantity = QUANTITIES[key]
    options.setdefault("label", gettext_lazy(quantity.label))
    return SizeField(low=quantity.low, high=quantity.high, **options)
