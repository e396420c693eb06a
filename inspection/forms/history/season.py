"""Which season is looked at, and which rule's margins."""

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.loaders.history.night_sums import Period
from inspection.loaders.history.season import PassRates
from inspection.models import Rule
from inventory.forms.base import PageForm

A_YEAR = dt.timedelta(days=365)
_DAY = {"type": "date"}


class PeriodForm(PageForm):
    """From one day to another; by address, so that it can be shared."""

    start = forms.DateField(
        label=_("From"), widget=forms.DateInput(attrs=_DAY), required=False
    )
    end = forms.DateField(
        label=_("To"), widget=forms.DateInput(attrs=_DAY), required=False
    )

    def __init__(self, data: Any, *, today: dt.date) -> None:
        self.today = today
        start, end = (today - A_YEAR).isoformat(), today.isoformat()
        super().__init__(
            {"start": data.get("start") or start, "end": data.get("end") or end}
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if (
            "start" in cleaned
            and "end" in cleaned
            and cleaned["start"] > cleaned["end"]
        ):
            self.add_error(
                "start",
                forms.ValidationError(
                    _("The first day is after the last."), code="period_backwards"
                ),
            )
        return cleaned

    def period(self) -> Period:
        """Give what was chosen, or the last year."""
        if self.is_valid():
            return Period(
                start=self.cleaned_data["start"], end=self.cleaned_data["end"]
            )
        return Period(start=self.today - A_YEAR, end=self.today)


def chosen_rule(rates: PassRates, typed: str) -> Rule | None:
    """Give the rule whose margins are asked for: that, or the one that refuses most."""
    limited = [one for one in rates.rules if not one.rule.required]
    for one in limited:
        if str(one.rule.pk) == typed:
            return one.rule
    worst = min(limited, key=lambda one: one.passed.percent or 0.0, default=None)
    return worst.rule if worst else None
