"""What a driver wants first: why, by how much, what to do, and how sure it is."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist

from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later

from inspection.compute.judging import DecisionRule, Outcome
from inspection.drawing.where_to_measure import draw_where_to_measure
from inspection.loaders.block.sheets import LoadedSheet
from inspection.views.block.found_rules import FoundRule
from inspection.words.quantities import quantity_name
from inventory.compute.numbers import decimals_for, format_u, format_value

#: What brings a value up and what brings it down, by how the quantity's name begins.
#: The longest beginning counts.
_WAYS: Mapping[str, tuple[Promise, Promise]] = {
    "clearance": (
        later("larger tyres, or a shim under the axle's bearings"),
        later("smaller tyres, or a shim less under the axle's bearings"),
    ),
    "clearance_gear": (
        later("a gear with fewer teeth, or larger rear tyres"),
        later("a larger gear, or smaller rear tyres"),
    ),
    "clearance_body": (
        later("the body mounted higher"),
        later("the body mounted lower"),
    ),
    "ride_height": (
        later("larger tyres, or a shim under the axle's bearings"),
        later("smaller tyres, or a shim less under the axle's bearings"),
    ),
    "tyre_diameter": (later("larger tyres"), later("smaller tyres")),
    "tyre_width": (later("wider tyres"), later("narrower tyres")),
    "tyre_mismatch": (
        later("the two tyres changed for a pair of one size"),
        later("the two tyres changed for a pair of one size"),
    ),
    "width": (
        later("the wheels further out on the axle"),
        later("the wheels further in on the axle, or narrower tyres"),
    ),
    "track": (
        later("the wheels further out on the axle"),
        later("the wheels further in on the axle"),
    ),
    "weight": (later("ballast"), later("weight taken off")),
    "axle_level": (
        later("the axle set level in its bearings"),
        later("the axle set level in its bearings"),
    ),
    "twist": (
        later("the chassis trued on the flat block"),
        later("the chassis trued on the flat block"),
    ),
    "guide_depth": (
        later("spacers out from under the guide"),
        later("spacers under the guide"),
    ),
    "gear_ratio": (
        later("a larger gear, or a smaller pinion"),
        later("a smaller gear, or a larger pinion"),
    ),
}


@dataclass(frozen=True, kw_only=True)
class ForDriver:
    """One rule that the car does not meet, as it is told to its driver."""

    rule: FoundRule
    why: str
    by_how_much: str
    what_to_do: str
    how_sure: str
    picture: SafeString

    @property
    def sentences(self) -> list[str]:
        parts = (self.why, self.by_how_much, self.what_to_do, self.how_sure)
        return [one for one in parts if one]


def for_driver(loaded: LoadedSheet, rules: list[FoundRule]) -> list[ForDriver]:
    """Tell each rule that the car does not meet, in the order of the rulebook."""
    return [_told(loaded, rule) for rule in rules if rule.is_failing]


def _whose_doubt(loaded: LoadedSheet) -> str:
    """Say in words whose the doubt is, by the rulebook's decision rule."""
    edition = loaded.edition
    factor = f"{NormalDist().inv_cdf(edition.confidence):.2f}"
    match edition.decision_rule:
        case DecisionRule.GUARDED_REJECTION:
            sentence = _(
                "The driver has the benefit of the doubt: a value is refused only when "
                "it is outside by more than %(factor)s times its doubt u."
            )
        case DecisionRule.GUARDED_ACCEPTANCE:
            sentence = _(
                "The doubt counts against the car: a value is admitted only when it is "
                "inside by at least %(factor)s times its doubt u."
            )
        case DecisionRule.SIMPLE_ACCEPTANCE:
            return _(
                "Nobody has the benefit of the doubt: the value as measured decides, "
                "and one exactly at the limit is inside."
            )
    return sentence % {"factor": factor}


def _told(loaded: LoadedSheet, rule: FoundRule) -> ForDriver:
    finding, quantity = rule.found, rule.found.rule.quantity
    picture = draw_where_to_measure(
        quantity.picture, column=quantity.columns[0], label=quantity_name(quantity)
    )
    return ForDriver(
        rule=rule,
        why=_("Rule %(number)s: %(sentence)s")
        % {"number": finding.rule.number, "sentence": finding.rule.sentence},
        by_how_much=_by_how_much(rule),
        what_to_do=_what_to_do(rule),
        how_sure=_how_sure(loaded, rule),
        picture=mark_safe(picture),  # noqa: S308
    )


def _by_how_much(rule: FoundRule) -> str:
    finding, quantity = rule.found, rule.found.rule.quantity
    words = {
        "label": quantity_name(quantity),
        "limits": rule.limits,
        "by": finding.short_by,
    }
    if finding.rule.required:
        words |= {"seen": _("yes") if finding.value else _("no")}
        words |= {"wanted": finding.rule.required}
        return _("%(label)s: %(seen)s; it must be %(wanted)s.") % words
    words["value"] = format_value(
        finding.value or 0.0, decimals=finding.value_decimals, unit=quantity.unit
    )
    if rule.went_under is not None:
        return (
            _("%(label)s: the %(value)s slip goes under; %(limits)s.")
            if rule.went_under
            else _("%(label)s: the %(value)s slip does not go under; %(limits)s.")
        ) % words
    if finding.margin is not None and finding.margin < 0:
        return _("%(label)s: %(value)s, %(by)s outside; %(limits)s.") % words
    return (
        _("%(label)s: %(value)s, %(by)s inside, too near to be sure; %(limits)s.")
        % words
    )


def _what_to_do(rule: FoundRule) -> str:
    finding, quantity = rule.found, rule.found.rule.quantity
    if finding.rule.required:
        return _("Put it right so that the answer is %(wanted)s.") % {
            "wanted": finding.rule.required
        }
    is_low = _is_low(rule)
    beginnings = [one for one in _WAYS if quantity.key.startswith(one)]
    way = _WAYS[max(beginnings, key=len)][not is_low] if beginnings else ""
    aim = finding.lower_text if is_low else finding.upper_text
    sentence = (
        _("Bring it up to %(aim)s or more")
        if is_low
        else _("Bring it down to %(aim)s or less")
    ) % {"aim": aim}
    return f"{sentence}: {way}." if way else f"{sentence}."


def _is_low(rule: FoundRule) -> bool:
    """Whether the value is, or comes nearest to being, below its lower limit."""
    finding = rule.found
    if finding.lower is None or finding.upper is None or finding.value is None:
        return finding.lower is not None
    return finding.value - finding.lower < finding.upper - finding.value


def _how_sure(loaded: LoadedSheet, rule: FoundRule) -> str:
    """Say what the doubt of the value is, and what was done with it."""
    finding, quantity = rule.found, rule.found.rule.quantity
    u_text = format_u(finding.u_value or 0.0, unit=quantity.unit)
    if not finding.u_value or not u_text or rule.went_under is not None:
        return ""
    twice = format_value(
        2 * finding.u_value, decimals=decimals_for(finding.u_value), unit=quantity.unit
    )
    sentence = _(
        "How sure: the true value is within %(twice)s of this in 95 of 100 cases "
        "(u = %(u)s)."
    ) % {"twice": twice, "u": u_text}
    if finding.outcome is Outcome.FAIL:
        return f"{sentence} {_('It is outside by more than its doubt.')}"
    return f"{sentence} {_whose_doubt(loaded)}"
