"""The season: pass rates, margins, wear, and how repeats spread."""

from collections.abc import Iterable, Sequence
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import Truncator
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from inspection.access import sheets_seen_by
from inspection.compute.quantities import QUANTITIES
from inspection.drawing.bars import Bar, Bars, draw_bars
from inspection.drawing.series import MOST_LINES, Chart, Line, draw_series
from inspection.forms.history.season import PeriodForm, chosen_rule
from inspection.loaders.history.night_sums import NightFigures, load_nights
from inspection.loaders.history.readings_of_season import (
    CompoundWear,
    RepeatsTable,
    repeats_of,
    wear_of,
)
from inspection.loaders.history.season import (
    CarDot,
    NightMargins,
    cars_of_refusing,
    cars_under,
    margins_of,
    pass_rates,
)
from inspection.models import Rule, Sheet
from inventory.access import allow, signed_in
from inventory.compute.roles import Ability
from inventory.drawing.numbers import shown_number
from inventory.models import Person
from inventory.views.acts import form_page

#: So many nights' margins stand in one table.
NIGHTS_A_PAGE = 53
#: So much of a class's name stands at the end of its line.
LONGEST_NAME = 24


@require_GET
@allow(Ability.LOOK)
def season(request: HttpRequest) -> HttpResponse:
    """Show a season in figures, each plot with its table beside it."""
    form = PeriodForm(request.GET, today=timezone.localdate())
    period = form.period()
    nights = load_nights(period)
    rates = pass_rates(nights)
    rule = chosen_rule(rates, request.GET.get("rule", ""))
    some = _some_nights(nights, request.GET.get("nights"))
    margins = margins_of(rule, some) if rule else ()
    refused = cars_of_refusing(rates, nights)
    dots = cars_under(rule, some) if rule else {}
    wear, repeats = wear_of(nights), repeats_of(nights)
    return form_page(
        request,
        form,
        "inspection/history/season.html",
        {
            "period": period,
            "rates": rates,
            "rule": rule,
            "quantity": QUANTITIES[rule.quantity] if rule else None,
            # Of two limits a margin does not say which it is from.
            "has_one_limit": rule is not None and None in {rule.lower, rule.upper},
            "margins": [
                (one, dots.get((one.night_id, one.class_name), [])) for one in margins
            ],
            "refusing": [(one, refused.get(one.rule.pk, [])) for one in rates.refusing],
            "may_open": _may_open(
                signed_in(request), [*refused.values(), *dots.values()]
            ),
            "is_asked": "rule" in request.GET,
            "by_class": list(zip(rates.classes, rates.cars, strict=True)),
            "keep_period": _kept_period(request),
            "nights": some,
            "wear": wear,
            "repeats": repeats,
            "margins_plot": draw_margins(rule, margins) if rule else "",
            "wear_plot": draw_wear(wear),
            "repeats_plot": draw_repeats(repeats),
        },
    )


def _kept_period(request: HttpRequest) -> str:
    """Give the query that keeps the period in a link."""
    kept = {name: request.GET[name] for name in ("start", "end") if name in request.GET}
    return f"{urlencode(kept)}&" if kept else ""


def _may_open(person: Person, dots: Iterable[Iterable[CarDot]]) -> set[str]:
    """Give the numbers of the sheets that whoever looks may open."""
    numbers = {dot.sheet for some in dots for dot in some}
    if not numbers:
        return set()
    sheets = Sheet.objects.filter(number__in=numbers)
    return set(sheets_seen_by(person, sheets).values_list("number", flat=True))


def _some_nights(nights: Sequence[NightFigures], number: str | None) -> Page[Any]:
    """Give a year's nights at most, the last ones first asked."""
    page = Paginator(nights[::-1], NIGHTS_A_PAGE).get_page(number)
    page.object_list = page.object_list[::-1]
    return page


def _drawn(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308


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
                    (float(at), date_format(date, "j M"))
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
