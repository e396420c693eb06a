"""How long a car stays legal, in one line."""

from django import template
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.wear import MOST_WEAR_MM
from inspection.loaders.sheets import LoadedSheet
from inspection.loaders.wear import Wear, wear_of_sheet
from inventory.drawing.numbers import shown_number

register = template.Library()


@register.simple_tag
def wear_line(loaded: LoadedSheet) -> str:
    """Say how long the car of a sheet stays legal; nothing where that is not known."""
    wear = wear_of_sheet(loaded)
    return "" if wear is None else wear_words(wear)


@register.filter
def wear_words(wear: Wear) -> str:
    """Say how long a car stays legal, and which rule breaks first."""
    if wear.rule is None:
        return _("No rule breaks within %(most)s mm of wear.") % {
            "most": shown_number(MOST_WEAR_MM, 0)
        }
    if wear.is_broken:
        # Admitted within the doubt, a car may pass with no wear left.
        return _("No wear left: rule %(number)s is past its limit already.") % {
            "number": wear.rule.number
        }
    words = _(
        "Legal down to rear tyres of %(mm)s mm, %(less)s mm less than now; rule "
        "%(number)s breaks first"
    ) % {
        "mm": shown_number(wear.limit.tyre_diameter),
        "less": shown_number(wear.limit.wear),
        "number": wear.rule.number,
    }
    return f"{words}{_nights(wear)}."


def _nights(wear: Wear) -> str:
    if wear.nights is None or wear.per_night_mm is None:
        return ""
    words = ngettext(
        "; %(nights)d night at this car's own %(per)s mm a night",
        "; %(nights)d nights at this car's own %(per)s mm a night",
        wear.nights,
    )
    return words % {"nights": wear.nights, "per": shown_number(wear.per_night_mm, 3)}
