"""What in a rulebook cannot be meant, in sentences."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inspection.compute.quantities import QUANTITIES
from inspection.compute.rulebooks import Contradiction, Fault, Unmeetable, limit_text
from inspection.words.quantities import quantity_name
from inventory.compute.numbers import decimals_beside, format_value, to_millionths
from inventory.words.enumerations import word_of

_SENTENCES: Final[Mapping[Fault, Promise]] = MappingProxyType(
    {
        Fault.NO_CAR_MEETS_BOTH: gettext_lazy(
            "No car can meet both %(rule)s and %(other)s, on “%(quantity)s”: %(clash)s."
        ),
        Fault.LIMITS_CROSSED: gettext_lazy(
            "Rule %(rule)s, %(stage)s the race: the lower limit %(lower)s is above the "
            "upper limit %(upper)s."
        ),
        Fault.NOT_PLAUSIBLE: gettext_lazy(
            "Rule %(rule)s: %(limit)s is outside what “%(quantity)s” can be, "
            "%(least)s to %(most)s."
        ),
        Fault.NO_VALUE_PASSES: gettext_lazy(
            "Rule %(rule)s: %(lower)s to %(upper)s is narrower than the doubt of the "
            "measurement (u about %(u)s): no value is a pass, a conditional pass at "
            "best."
        ),
        Fault.CLASS_WITHOUT_RULE: gettext_lazy("No rule speaks of %(race_class)s."),
        Fault.CLASS_ELSEWHERE: gettext_lazy(
            "Rule %(rule)s speaks of %(race_class)s, which does not race by this "
            "rulebook."
        ),
        Fault.NEVER_ASKED: gettext_lazy(
            "Rule %(rule)s has a limit for after the race, and is asked before it only."
        ),
    }
)


def contradiction_words(one: Contradiction) -> str:
    """
    Say what in a rulebook cannot be meant.

    Parameters
    ----------
    one : Contradiction
        Of an edition.

    Returns
    -------
    str
        A sentence.
    """
    if one.link is not None:
        return _no_car_meets_all(one.rules, one.link)
    filled_in = _values(one)
    if one.fault is not Fault.NO_SUCH_QUANTITY:
        return str(_SENTENCES[one.fault]) % filled_in
    if one.carrier:
        return (
            _(
                "Rule %(rule)s: there is no “%(quantity)s” of a car whose front is on "
                "the %(carrier)s."
            )
            % filled_in
        )
    words = _("Rule %(rule)s: there is no “%(quantity)s” of any car of %(race_class)s.")
    return words % filled_in


def _values(one: Contradiction) -> dict[str, str]:
    rule, other = (*one.rules, "", "")[:2]
    filled_in = {
        "rule": rule,
        "other": other,
        "race_class": one.race_class,
        "carrier": word_of(one.carrier),
        "stage": word_of(one.stage or ""),
    }
    if one.quantity:
        quantity = QUANTITIES[one.quantity]
        limits = {
            "lower": one.lower,
            "upper": one.upper,
            "limit": one.limit,
            "least": to_millionths(quantity.low),
            "most": to_millionths(quantity.high),
            "u": to_millionths(one.u),
        }
        filled_in["quantity"] = quantity_name(one.quantity)
        filled_in |= {
            name: limit_text(limit, quantity)
            for name, limit in limits.items()
            if limit is not None
        }
        filled_in["clash"] = (
            _("must be yes and no")
            if one.lower is None
            else _("at least %(lower)s and at most %(upper)s") % filled_in
        )
    return filled_in


def _no_car_meets_all(rules: Sequence[str], link: Unmeetable) -> str:
    *first, last = rules
    filled_in = {"rules": last, "why": _link_words(link)}
    if not first:
        words = (
            _("No car can meet %(rules)s: %(why)s.")
            if link.is_strict
            else _(
                "No car that stands level on its wheels can meet %(rules)s: %(why)s."
            )
        )
        return words % filled_in
    named = {"first": ", ".join(first), "last": last}
    filled_in["rules"] = _("%(first)s and %(last)s") % named
    words = (
        _("No car can meet %(rules)s together: %(why)s.")
        if link.is_strict
        else _(
            "No car that stands level on its wheels can meet %(rules)s together: "
            "%(why)s."
        )
    )
    return words % filled_in


def _link_words(link: Unmeetable) -> str:
    if link.comes_out is None or link.asked is None:
        return _("no whole counts of teeth have such a ratio")
    quantity = QUANTITIES[link.quantity]
    places = decimals_beside(link.comes_out, [link.asked], decimals=quantity.decimals)
    filled_in = {
        "quantity": quantity_name(link.quantity),
        "comes_out": format_value(link.comes_out, decimals=places, unit=quantity.unit),
        "asked": limit_text(to_millionths(link.asked), quantity),
    }
    if link.comes_out < link.asked:
        return (
            _(
                "“%(quantity)s” comes out at at most %(comes_out)s, and at least "
                "%(asked)s is asked"
            )
            % filled_in
        )
    return (
        _(
            "“%(quantity)s” comes out at at least %(comes_out)s, and at most %(asked)s "
            "is asked"
        )
        % filled_in
    )
