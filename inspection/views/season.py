"""The season: pass rates, margins, wear, and how repeats spread."""

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from inspection.access import ANYONE_SIGNED_IN
from inspection.compute.quantities import QUANTITIES
from inspection.drawing.bars import Bar, Bars, draw_bars
from inspection.drawing.series import MOST_LINES, Chart, Line, draw_series
from inspection.forms.season import PeriodForm, chosen_rule
from inspection.loaders.readings_of_season import (
    CompoundWear,
    RepeatsTable,
    load_repeats,
    load_wear,
)
from inspection.loaders.season import (
    NightMargins,
    PassRates,
    load_margins,
    load_pass_rates,
)
from inspection.models import Rule
from inventory.access import allow
from inventory.drawing.numbers import shown_number

#: So much of a class's name stands at the end of its line.
LONGEST_NAME = 24


@require_GET
@allow(ANYONE_SIGNED_IN)
def season(request: HttpRequest) -> HttpResponse:
    """Show a season in figures, each plot with its table beside it."""
    form = PeriodForm(request.GET, today=timezone.localdate())
    period = form.period()
    rates = load_pass_rates(period)
    rule = chosen_rule(rates, request.GET.get("rule", ""))
    margins = load_margins(rule, period) if rule else ()
    wear, repeats = load_wear(period), load_repeats(period)
    return render(
        request,
        "inspection/season.html",
        {
            "form": form,
            "period": period,
            "rates": rates,
            "rule": rule,
            "quantity": QUANTITIES[rule.quantity] if rule else None,
            "margins": margins,
            "wear": wear,
            "repeats": repeats,
            "rates_plot": draw_rates(rates),
            "margins_plot": draw_margins(rule, margins) if rule else "",
            "wear_plot": draw_wear(wear),
            "repeats_plot": draw_repeats(repeats),
        },
        status=422 if form.errors else 200,
    )


def _drawn(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308


def draw_rates(rates: PassRates) -> SafeString:
    """Draw the rules that refused most, the most first."""
    worst = sorted(rates.rules, key=lambda one: one.passed.percent or 0.0)
    bars = [
        Bar(
            name=f"{one.rule.number} {one.label}",
            value=one.passed.percent or 0.0,
            words=f"{shown_number(one.passed.percent, 0)} %",
            is_marked=one.passed.admitted < one.passed.judged,
        )
        for one in worst
    ]
    return _drawn(
        draw_bars(Bars(title=_("Admitted at the first look"), bars=bars, full=100.0))
    )


def draw_margins(rule: Rule, margins: Sequence[NightMargins]) -> SafeString:
    """Draw each class's median margin, night by night."""
    quantity = QUANTITIES[rule.quantity]
    nights = list(dict.fromkeys((one.date, one.night) for one in margins))
    counts: dict[str, int] = {}
    for one in margins:
        counts[one.class_name] = counts.get(one.class_name, 0) + one.count
    shown = sorted(counts, key=lambda name: -counts[name])[:MOST_LINES]
    return _drawn(
        draw_series(
            Chart(
                title=_("Median margin, rule %(number)s") % {"number": rule.number},
                lines=[
                    Line(
                        name=Truncator(name).chars(LONGEST_NAME),
                        points=[
                            (float(nights.index((one.date, one.night))), one.median)
                            for one in margins
                            if one.class_name == name
                        ],
                    )
                    for name in shown
                ],
                times=[
                    (float(at), f"{date.day} {date:%b}")
                    for at, (date, _night) in enumerate(nights)
                ],
                lower=0.0,
                unit=quantity.unit.symbol,
                places=quantity.decimals,
            )
        )
    )


def draw_wear(wear: Sequence[CompoundWear]) -> SafeString:
    """Draw what each compound lost a night."""
    bars = [
        Bar(
            name=one.compound or _("not said"),
            value=max(one.median, 0.0),
            words=f"{shown_number(one.median, 3)} mm",
        )
        for one in wear
    ]
    return _drawn(draw_bars(Bars(title=_("Wear a night, diameter"), bars=bars)))


def draw_repeats(repeats: RepeatsTable) -> SafeString:
    """Draw each person's spread beside the club's own."""
    bars = [
        Bar(name=name, value=one.deviation, words=shown_number(one.deviation, 2))
        for name, one in zip(repeats.people, repeats.overall, strict=True)
        if one.tells
    ]
    return _drawn(
        draw_bars(
            Bars(title=_("Spread of repeats; 1 is usual"), bars=bars, line_at=1.0)
        )
    )
