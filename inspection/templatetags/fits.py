"""How parts are named where they are looked for."""

import math
from collections.abc import Sequence

from django import template
from django.template import Context
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.judging import Outcome
from inspection.compute.what_if import TyreSizes
from inspection.loaders.cars.search import cars_in_turn, cars_of
from inspection.loaders.fit.cars_for_part import (
    CHECKED_KINDS,
    CarLine,
    cars_taking_what_is_in,
)
from inspection.loaders.fit.check_lines import over_track
from inspection.loaders.fit.stock import FitAnswer, FitKind, FitLine, Standing
from inspection.loaders.remedies import CuredRule
from inventory.access import visitor
from inventory.compute.numbers import decimals_beside, format_value
from inventory.compute.stock import GearRole, PartKind
from inventory.drawing.numbers import (
    bare_length,
    length_unit,
    shown_length,
    shown_number,
)
from inventory.loaders.parts import facts_text
from inventory.models import Part
from inventory.words.enumerations import word_of

register = template.Library()

#: Nearer than this a part rolls as far as the one before it, %.
_AS_FAR = 0.5
#: So many of somebody's own cars are answered for on the page of a part.
_OWN_SHOWN = 5


@register.filter
def is_checked(part: Part) -> bool:
    """Tell whether it is checked which cars take a part."""
    return part.kind in CHECKED_KINDS


@register.simple_tag(takes_context=True)
def my_cars_taking(context: Context, what: Part | Sequence[Part]) -> list[CarLine]:
    """Say whether a part, or the tyres of a bag, fit the cars of whoever looks."""
    person = visitor(context["request"])
    if person is None:
        return []
    parts = [what] if isinstance(what, Part) else what
    racing = cars_of(person).filter(retired_at=None)
    own = cars_in_turn(racing, today=timezone.localdate())[:_OWN_SHOWN]
    return cars_taking_what_is_in(parts, own)


@register.filter
def kind_looked_for(part: Part) -> str:
    """Name what is looked for where a part of this kind is."""
    if part.kind == PartKind.TYRE:
        return FitKind.TYRES
    if part.kind == PartKind.MOTOR:
        return FitKind.MOTOR
    return FitKind.PINION if part.gear.role == GearRole.PINION else FitKind.GEAR


@register.filter
def part_words(part: Part) -> str:
    """Name a part: as it is called, else by what it is."""
    return part.name or facts_text(part) or word_of(part.kind)


@register.filter
def parts_words(parts: Sequence[Part]) -> str:
    """Name parts that go on together; the two tyres of a pair once."""
    tyres = [part for part in parts if part.kind == PartKind.TYRE]
    words = [part_words(part) for part in parts if part.kind != PartKind.TYRE]
    if tyres:
        words.insert(0, _("Pair: %(what)s") % {"what": part_words(tyres[0])})
    return " + ".join(words)


@register.filter
def range_words(sizes: TyreSizes) -> str:
    """Say which tyres rules allow: an end that no rule sets is no limit."""
    low, high = sizes.lowest_mm, sizes.highest_mm
    if math.isnan(sizes.lowest_mm):
        return _("no size")
    if sizes.lowest_rule is None and sizes.highest_rule is None:
        return _("any size")
    if sizes.highest_rule is None:
        return _("%(low)s or more") % {"low": shown_length(low, inwards="up")}
    if sizes.lowest_rule is None:
        return _("%(high)s or less") % {"high": shown_length(high, inwards="down")}
    return _("%(low)s to %(high)s") % {
        "low": bare_length(low, inwards="up"),
        "high": shown_length(high, inwards="down"),
    }


@register.filter
def sizes_words(sizes_mm: Sequence[float]) -> str:
    """Write the sizes by which parts of a kind are told apart."""
    if not sizes_mm:
        return ""
    return f"{' × '.join(map(bare_length, sizes_mm))} {length_unit()}"


@register.filter
def answer_words(answer: FitAnswer) -> str:
    """Say at once whether anything of the drawers fits."""
    fits, open_count = answer.count(Standing.FITS), answer.count(Standing.NOT_KNOWN)
    if fits:
        words = ngettext("Yes: %(what)s fits.", "Yes: %(what)s fit.", fits)
        return words % {"what": kinds_words(answer.kind, fits)}
    if open_count:
        words = _("Not known yet for %(what)s.")
        return words % {"what": kinds_words(answer.kind, open_count)}
    words = ngettext(
        "No: %(what)s in the drawers, and it does not fit.",
        "No: %(what)s in the drawers, and none of them fits.",
        len(answer),
    )
    return words % {"what": kinds_words(answer.kind, len(answer))}


def kinds_words(kind: FitKind, count: int) -> str:
    """Write how many of a kind."""
    match kind:
        case FitKind.GEAR:
            words = ngettext("%(n)d gear", "%(n)d gears", count)
        case FitKind.PINION:
            words = ngettext("%(n)d pinion", "%(n)d pinions", count)
        case FitKind.TYRES:
            words = ngettext("%(n)d pair of tyres", "%(n)d pairs of tyres", count)
        case FitKind.MOTOR:
            words = ngettext("%(n)d motor", "%(n)d motors", count)
    return words % {"n": count}


@register.filter
def size_words(line: FitLine) -> str:
    """Name a part by what decides: its teeth, else its sizes."""
    if line.teeth is not None:
        return ngettext("%(n)d tooth", "%(n)d teeth", line.teeth) % {"n": line.teeth}
    if len(line.parts) > 1:
        return f"{' / '.join(map(bare_length, line.sizes_mm))} {length_unit()}"
    return sizes_words(line.sizes_mm) or parts_words(line.parts)


@register.filter
def beside_size(line: FitLine) -> str:
    """Name a part beside what decides of it: a gear's kind and pitch."""
    gear = getattr(line.parts[0], "gear", None)
    if gear is None:
        return parts_words(line.parts)
    return " · ".join(filter(None, (gear.pitch_name, word_of(gear.role))))


@register.filter
def effect_words(line: FitLine | CarLine) -> str:
    """Say what a part would do to the car, after a comma."""
    words = []
    if line.change_percent is not None:
        words.append(_rolls(line.change_percent))
    gap = over_track(line.checks)
    if gap is not None and gap.value < 0.0:
        deep = shown_length(-gap.value)
        words.append(_("touches the track, %(deep)s deep") % {"deep": deep})
    elif gap is not None:
        gap_words = shown_length(gap.value)
        words.append(_("clears the track by %(gap)s") % {"gap": gap_words})
    return ", ".join(words)


@register.filter
def needed_words(line: FitLine | CarLine) -> str:
    """Say what gap to the track is asked."""
    gap = over_track(line.checks)
    if gap is None or not math.isfinite(gap.lower):
        return ""
    return _("%(gap)s needed") % {"gap": bare_length(gap.lower)}


@register.filter
def cured_words(cured: CuredRule) -> str:
    """Say what a rule would find that keeps the car from passing now."""
    words = {"number": cured.rule.number, "outcome": word_of(cured.outcome)}
    if cured.outcome is not Outcome.PASS:
        return _("rule %(number)s: %(outcome)s") % words
    if cured.margin is None or cured.rule.required:
        return _("passes rule %(number)s") % words
    quantity = cured.rule.quantity
    decimals = decimals_beside(cured.margin, [0.0], decimals=quantity.decimals)
    words["by"] = format_value(cured.margin, decimals=decimals, unit=quantity.unit)
    return _("passes rule %(number)s with %(by)s to spare") % words


@register.filter
def rolls_words(percent: float) -> str:
    """Say how much further a car would roll than now, to a tenth of a per cent."""
    if abs(percent) < _AS_FAR:
        return _("rolls as far as now")
    words = (
        _("rolls %(n)s %% further per motor turn")
        if percent > 0
        else _("rolls %(n)s %% less far per motor turn")
    )
    return words % {"n": shown_number(abs(percent), 1)}


def _rolls(percent: float) -> str:
    if abs(percent) < _AS_FAR:
        return _("rolls as far as now")
    words = _("rolls %(n)s %% further") if percent > 0 else _("rolls %(n)s %% less far")
    return words % {"n": f"{abs(percent):.0f}"}
