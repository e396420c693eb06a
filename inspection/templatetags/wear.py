"""How long a car stays legal, in one line."""

import math

from django import template
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.what_if import MOST_WEAR_MM
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.history.wear import Broken, TyreWear, wear_of_sheet
from inspection.loaders.rulebooks.editions import LoadedRule
from inspection.words.quantities import quantity_name
from inventory.compute.numbers import decimals_beside, exact_decimals, format_value
from inventory.drawing.numbers import shown_length

register = template.Library()


@register.simple_tag
def wear_line(loaded: LoadedSheet) -> str:
    """Say how long the car of a sheet stays legal; nothing where that is not known."""
    wear = wear_of_sheet(loaded)
    return "" if wear is None else wear_words(wear)


@register.filter
def wear_words(wear: TyreWear) -> str:
    """Say how long a car stays legal, and which rule breaks first."""
    if wear.rule is None:
        return _("No rule breaks within %(most)s of wear.") % {
            "most": shown_length(MOST_WEAR_MM, 0)
        }
    if wear.is_broken:
        return _broken_words(wear.rule, wear.broken)
    words = _(
        "Legal down to rear tyres of %(size)s, %(less)s less than now; rule "
        "%(number)s breaks first"
    ) % {
        "size": shown_length(wear.limit.tyre_diameter, inwards="up"),
        "less": shown_length(wear.limit.wear, inwards="down"),
        "number": wear.rule.number,
    }
    return f"{words}{_nights(wear)}."


def _broken_words(rule: LoadedRule, broken: Broken | None) -> str:
    filled_in = {"number": rule.number}
    # A limit slip that does not go says no value, and an answer is no figure.
    if broken is None or math.isnan(broken.value) or rule.required:
        return _("Not legal as fitted: rule %(number)s is broken already.") % filled_in
    quantity, limits = rule.quantity, (broken.lower, broken.upper)
    is_low = broken.value < broken.lower
    limit = broken.lower if is_low else broken.upper
    least = quantity.decimals
    name = quantity_name(quantity)
    filled_in["label"] = name[:1].lower() + name[1:]
    filled_in["value"] = format_value(
        broken.value,
        decimals=decimals_beside(broken.value, limits, decimals=least),
        unit=quantity.unit,
    )
    filled_in["limit"] = format_value(
        limit, decimals=exact_decimals(limit, least=least), unit=quantity.unit
    )
    words = (
        _("%(label)s is %(value)s; rule %(number)s asks at least %(limit)s")
        if is_low
        else _("%(label)s is %(value)s; rule %(number)s allows at most %(limit)s")
    ) % filled_in
    # Sealed as passed, such a car is not called illegal on its own sheet.
    if broken.is_admitted:
        return _("Legal only within the doubt, nothing left to wear: %(found)s.") % {
            "found": words
        }
    return _("Not legal as fitted: %(found)s.") % {"found": words}


def _nights(wear: TyreWear) -> str:
    if wear.left is None:
        return ""
    if wear.nights is None:
        return _("; in how many nights is not yet known")
    low, high = wear.nights
    words = ngettext(
        "; %(low)d to %(high)d night at %(per)s a night",
        "; %(low)d to %(high)d nights at %(per)s a night",
        high,
    )
    per = shown_length(wear.left.per_night_mm, 3)
    return words % {"low": low, "high": high, "per": per}
