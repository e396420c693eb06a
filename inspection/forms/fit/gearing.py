"""The form of a car's gearing: which two gears are looked at."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.forms.fit.fields import TeethField
from inventory.compute.gears import LEAST_TEETH, MOST_TEETH
from inventory.forms.base import PageForm


class MeshForm(PageForm):
    """A pinion and a gear of one pitch, by their teeth."""

    pinion = TeethField(
        label=_("Pinion, teeth"), low=LEAST_TEETH, high=MOST_TEETH, required=True
    )
    gear = TeethField(
        label=_("Gear, teeth"), low=LEAST_TEETH, high=MOST_TEETH, required=True
    )

    def clean(self) -> None:
        super().clean()
        pinion, gear = self.cleaned_data.get("pinion"), self.cleaned_data.get("gear")
        if pinion and gear and pinion > gear:
            self.add_error(
                "pinion",
                forms.ValidationError(
                    _(
                        "“%(pinion)d” was typed, and %(gear)d for the gear; a pinion "
                        "has no more teeth than its gear."
                    ),
                    code="pinion_larger_than_gear",
                    params={"pinion": pinion, "gear": gear},
                ),
            )

    def pair(self) -> dict[str, int | None]:
        """Give the two counts; nothing while one is wrong."""
        return dict(self.cleaned_data) if self.is_valid() else {}
