"""The season: pass rates at the first look, margins, wear."""

from typing import Any

from django.utils import timezone

from inspection.api.season.gives import Season, SeasonAsked
from inspection.forms.history.season import PeriodForm
from inspection.loaders.history.night_sums import load_nights
from inspection.loaders.history.readings_of_season import wear_of
from inspection.loaders.history.season import margins_of, pass_rates
from inventory.api.foundation.operations import Call, reads
from inventory.api.parts.parts import refuse_form

#: Each rule asks twice: so many, the ones that refuse most.
_RULES = 20


@reads(Season, query=SeasonAsked)
def show_season(call: Call) -> dict[str, Any]:
    """Tell of a season, the last year unless said: pass rates, margins, wear."""
    days = {name: day.isoformat() for name, day in call.said.items() if day}
    form = PeriodForm(days, today=timezone.localdate())
    refuse_form(form)
    period = form.period()
    nights = load_nights(period)
    rates = pass_rates(nights)
    limited = [one for one in rates.rules if not one.rule.required]
    worst = sorted(limited, key=lambda one: one.passed.percent or 0.0)[:_RULES]
    return {
        "period": period,
        "rates": rates,
        "margins": [
            {**vars(row), "rule": one.rule.pk}
            for one in worst
            for row in margins_of(one.rule, nights)
        ],
        "wear": wear_of(nights),
    }
