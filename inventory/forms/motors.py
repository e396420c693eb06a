"""Forms of the hand-out motors: how alike they must be, and the draw."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.draws import NewDraw
from inventory.compute.numbers import Unit
from inventory.forms.base import PageForm
from inventory.forms.pairing import NUMBER, AmountField


class MatchForm(PageForm):
    """How many motors a set needs, and how far they may differ."""

    count = forms.IntegerField(
        label=_("Drivers"),
        min_value=1,
        max_value=500,
        initial=8,
        widget=forms.TextInput(attrs=NUMBER),
    )
    spare = forms.IntegerField(
        label=_("Spare motors"),
        min_value=0,
        max_value=100,
        initial=2,
        widget=forms.TextInput(attrs=NUMBER),
    )
    speed = AmountField(label=_("Speed within"), unit=Unit.RPM, initial="500")
    resistance = AmountField(label=_("Resistance within"), unit=Unit.OHM, initial="0.1")

    @property
    def set_size(self) -> int:
        return max(2, int(self.cleaned_data["count"]) + int(self.cleaned_data["spare"]))


class DrawForm(PageForm):
    """Who draws, out of which motors, by what seed."""

    name = forms.CharField(label=_("Name of the draw"), max_length=60)
    motors = forms.CharField(label=_("Motors"), max_length=10_000)
    drivers = forms.CharField(
        label=_("Drivers, one a line"),
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text=_(
            "Car numbers do. A draw is kept as it is: a name cannot be taken out again."
        ),
    )
    seed = forms.CharField(
        label=_("Seed"),
        max_length=60,
        help_text=_(
            "Made in front of all once both lists are closed: dice, say, read aloud."
        ),
    )

    def new_draw(self) -> NewDraw:
        cleaned: dict[str, Any] = self.cleaned_data
        lines = (line.strip() for line in cleaned["drivers"].splitlines())
        return NewDraw(
            name=cleaned["name"],
            seed=cleaned["seed"],
            drivers=[line for line in lines if line],
            motor_tags=cleaned["motors"].split(),
        )
