"""Forms of a trial: whose sheets, and where a limit stands."""

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.rulebooks import Stage
from inspection.forms.rulebooks.rulebooks import NUMBER, number_text, read_number
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.loaders.rulebooks.stored_cars import Choice
from inspection.loaders.rulebooks.tried_limits import Limits
from inspection.models import RaceClass
from inventory.compute.numbers import Unit, from_millionths, to_millionths
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
        cleaned = self.cleaned_data
        race_class: RaceClass | None = cleaned.get("race_class")
        since: dt.date | None = cleaned.get("since")
        return Choice(
            rulebook_id=self.rulebook_id,
            stage=Stage(cleaned.get("stage") or Stage.BEFORE),
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
        limit_texts = {
            name: number_text(to_millionths(limit))
            for name, limit in self.drafted.items()
            if limit is not None
        }
        # What the address does not say is as drafted.
        names = ("lower", "upper", "share")
        kept = {name: data[name] for name in names if data.get(name)}
        super().__init__({**limit_texts, "share": SHARE, **kept})
        for name in ("lower", "upper"):
            if name not in limit_texts:
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
        cleaned = super().clean() or self.cleaned_data
        lower, upper = cleaned.get("lower"), cleaned.get("upper")
        if lower is not None and upper is not None and lower > upper:
            self.add_error(
                "lower",
                forms.ValidationError(
                    _("The lower limit is above the upper one."), code="limits_crossed"
                ),
            )
        return cleaned

    @property
    def limits(self) -> Limits | None:
        """The limits as moved; ``None`` where they are not sound."""
        if not self.is_valid():
            return None
        cleaned = self.cleaned_data
        return Limits(
            lower=_unit(cleaned.get("lower")),
            upper=_unit(cleaned.get("upper")),
        )

    @property
    def wanted_share(self) -> float:
        share: float = self.cleaned_data.get("share", 0.95)
        return share


def _unit(millionths: int | None) -> float | None:
    return None if millionths is None else from_millionths(millionths)
