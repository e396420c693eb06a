"""Forms of a trial: whose sheets, and where a limit stands."""

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.requirements import Stage
from inspection.forms.rulebooks import NUMBER, number_text, read_number
from inspection.loaders.rulebooks import LoadedRule
from inspection.loaders.stored_cars import Choice
from inspection.loaders.tried_limits import Limits
from inspection.models import RaceClass
from inventory.compute.units import Unit
from inventory.forms.base import PageForm

SHARE = "95"


class ChoiceForm(PageForm):
    """Whose last sealed sheets are tried; by address, so that it can be shared."""

    stage = forms.ChoiceField(
        label=_("Sheets"),
        choices=[
            (Stage.BEFORE.value, _("before the race")),
            (Stage.AFTER.value, _("after the race")),
        ],
        required=False,
    )
    since = forms.DateField(
        label=_("Of nights since"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    race_class = forms.ModelChoiceField(
        RaceClass.objects.none(),
        label=_("Class"),
        required=False,
        empty_label=_("all classes"),
    )

    def __init__(self, data: Any, *, rulebook_id: int) -> None:
        super().__init__(data)
        self.rulebook_id = rulebook_id
        classes = RaceClass.objects.filter(rulebook=rulebook_id)
        self.fields["race_class"].queryset = classes  # type: ignore[attr-defined]

    def choice(self) -> Choice:
        """Give what was chosen; of what is not sound, nothing."""
        self.is_valid()
        said = self.cleaned_data
        race_class: RaceClass | None = said.get("race_class")
        since: dt.date | None = said.get("since")
        return Choice(
            rulebook_id=self.rulebook_id,
            stage=Stage(said.get("stage") or Stage.BEFORE),
            since=since,
            class_id=race_class.pk if race_class else None,
        )


class LimitForm(PageForm):
    """A rule's limits, moved about, and the share of cars that shall be admitted."""

    lower = forms.CharField(
        label=_("Lower limit"), widget=forms.TextInput(attrs=NUMBER)
    )
    upper = forms.CharField(
        label=_("Upper limit"), widget=forms.TextInput(attrs=NUMBER)
    )
    share = forms.CharField(
        label=_("Share to admit"), required=False, widget=forms.TextInput(attrs=NUMBER)
    )

    def __init__(self, data: Any, *, rule: LoadedRule, stage: Stage) -> None:
        self.rule = rule
        self.drafted = dict(
            zip(("lower", "upper"), rule.limits(stage), strict=True)
            if rule.required is None
            else {}
        )
        said = {
            name: number_text(round(limit * 1_000_000))
            for name, limit in self.drafted.items()
            if limit is not None
        }
        # What the address does not say is as drafted.
        names = ("lower", "upper", "share")
        kept = {name: data[name] for name in names if data.get(name)}
        super().__init__({**said, "share": SHARE, **kept})
        for name in ("lower", "upper"):
            if name not in said:
                del self.fields[name]

    def clean_lower(self) -> int:
        return read_number(self.cleaned_data["lower"], self.rule.quantity.unit)

    def clean_upper(self) -> int:
        return read_number(self.cleaned_data["upper"], self.rule.quantity.unit)

    def clean_share(self) -> float:
        text = self.cleaned_data["share"] or SHARE
        share = read_number(text, Unit.ONE) / 100_000_000
        if not 0 < share <= 1:
            raise forms.ValidationError(
                _("“%(typed)s”: above 0 and at most 100 is expected."),
                code="share_out_of_range",
                params={"typed": text},
            )
        return share

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        lower, upper = said.get("lower"), said.get("upper")
        if lower is not None and upper is not None and lower > upper:
            self.add_error(
                "lower",
                forms.ValidationError(
                    _("The lower limit is above the upper one."), code="limits_crossed"
                ),
            )
        return said

    @property
    def limits(self) -> Limits | None:
        """The limits as moved; ``None`` where they are not sound."""
        if not self.is_valid():
            return None
        said = self.cleaned_data
        return Limits(
            lower=_unit(said.get("lower")),
            upper=_unit(said.get("upper")),
        )

    @property
    def wanted_share(self) -> float:
        share: float = self.cleaned_data.get("share", 0.95)
        return share


def _unit(millionths: int | None) -> float | None:
    return None if millionths is None else millionths / 1_000_000
