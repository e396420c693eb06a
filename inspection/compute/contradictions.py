"""
What in a rulebook cannot be meant: rules that no car can meet, and the like.

Limits are whole millionths of the quantity's unit.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from inspection.compute.conformity import no_value_passes
from inspection.compute.quantities import QUANTITIES, FrontCarrier
from inspection.compute.requirements import Force, Stage
from inspection.compute.rulebook import RulebookText, RuleText, limit_text


class Fault(StrEnum):
    """What is wrong with a rule, or with two together."""

    NO_CAR_MEETS_BOTH = "no car meets both"
    LIMITS_CROSSED = "limits crossed"
    NOT_PLAUSIBLE = "limit not plausible"
    NO_VALUE_PASSES = "no value passes"
    NO_SUCH_QUANTITY = "no such quantity"
    CLASS_WITHOUT_RULE = "class without a rule"
    CLASS_ELSEWHERE = "class of another rulebook"
    NEVER_ASKED = "never asked"


@dataclass(frozen=True, kw_only=True)
class Contradiction:
    """
    One thing that cannot be meant.

    Attributes
    ----------
    fault : Fault
        What is wrong.
    rules : tuple of str
        Numbers of the rules concerned.
    sentence : str
        What is wrong, for people.
    blocks : bool
        Whether the edition can be raced by no car at all, or not be judged by.
    """

    fault: Fault
    rules: tuple[str, ...] = ()
    sentence: str
    blocks: bool = False


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """
    What a rulebook is seen against.

    Attributes
    ----------
    classes : mapping of str to frozenset of FrontCarrier
        The rulebook's classes, each with what carries the front of its cars; empty
        where it has no car yet.
    u : mapping of str to float
        Usual standard uncertainty of a quantity, by its key, in its unit.
    """

    classes: Mapping[str, frozenset[FrontCarrier]]
    u: Mapping[str, float]


def contradictions(
    text: RulebookText, around: Surroundings
) -> tuple[Contradiction, ...]:
    """
    Name everything in a rulebook that cannot be meant.

    Parameters
    ----------
    text : RulebookText
        The edition.
    around : Surroundings
        The club's classes, and how well its quantities are measured.

    Returns
    -------
    tuple of Contradiction
        What blocks publishing first, then in the order of the rules.
    """
    found = [
        *_unmeetable_pairs(text.rules),
        *(one for rule in text.rules for one in _of_rule(rule, text, around)),
        *_classes_without_rule(text.rules, around),
    ]
    return tuple(sorted(found, key=lambda one: not one.blocks))


def _unmeetable_pairs(rules: tuple[RuleText, ...]) -> Iterator[Contradiction]:
    for one, other in combinations(rules, 2):
        if one.quantity != other.quantity or not _meet_a_car(one, other):
            continue
        clash = _clash(one, other)
        if clash:
            yield Contradiction(
                fault=Fault.NO_CAR_MEETS_BOTH,
                rules=(one.number, other.number),
                sentence=f"No car can meet both {one.number} and {other.number}, on "
                f"“{QUANTITIES[one.quantity].label}”: {clash}.",
                blocks=one.force is other.force is Force.MANDATORY,
            )


def _meet_a_car(one: RuleText, other: RuleText) -> bool:
    """Whether some car is asked both rules."""
    same_class = (
        not one.classes or not other.classes or {*one.classes} & {*other.classes}
    )
    apart = (
        one.condition_key == other.condition_key
        and one.condition_word != other.condition_word
    )
    return bool(same_class) and not apart


def _clash(one: RuleText, other: RuleText) -> str:
    """Say what the two ask that excludes each other; empty where nothing does."""
    quantity = QUANTITIES[one.quantity]
    for stage in (Stage.BEFORE, Stage.AFTER):
        if stage not in one.stages & other.stages:
            continue
        if one.required is not other.required:
            return "must be yes and no"
        for low, high in ((one, other), (other, one)):
            lower, upper = low.limits(stage)[0], high.limits(stage)[1]
            if lower is not None and upper is not None and lower > upper:
                return (
                    f"at least {limit_text(lower, quantity)} and at most "
                    f"{limit_text(upper, quantity)}"
                )
    return ""


def _of_rule(
    rule: RuleText, text: RulebookText, around: Surroundings
) -> Iterator[Contradiction]:
    yield from _crossed(rule)
    yield from _implausible(rule)
    yield from _too_narrow(rule, text, around.u)
    yield from _never_asked(rule)
    for name in rule.classes:
        if name not in around.classes:
            yield Contradiction(
                fault=Fault.CLASS_ELSEWHERE,
                rules=(rule.number,),
                sentence=f"Rule {rule.number} speaks of {name}, which does not race by "
                "this rulebook.",
            )
    yield from _impossible(rule, around.classes)


def _crossed(rule: RuleText) -> Iterator[Contradiction]:
    for stage in sorted(rule.stages):
        lower, upper = rule.limits(stage)
        if lower is not None and upper is not None and lower > upper:
            quantity = QUANTITIES[rule.quantity]
            yield Contradiction(
                fault=Fault.LIMITS_CROSSED,
                rules=(rule.number,),
                sentence=f"Rule {rule.number}, {stage} the race: the lower limit "
                f"{limit_text(lower, quantity)} is above the upper limit "
                f"{limit_text(upper, quantity)}.",
                blocks=True,
            )
            return


def _implausible(rule: RuleText) -> Iterator[Contradiction]:
    quantity = QUANTITIES[rule.quantity]
    low, high = round(quantity.low * 1_000_000), round(quantity.high * 1_000_000)
    span = f"{limit_text(low, quantity)} to {limit_text(high, quantity)}"
    limits = (rule.lower, rule.upper, rule.lower_after, rule.upper_after)
    for limit in dict.fromkeys(limits):
        if limit is not None and not low <= limit <= high:
            yield Contradiction(
                fault=Fault.NOT_PLAUSIBLE,
                rules=(rule.number,),
                sentence=f"Rule {rule.number}: {limit_text(limit, quantity)} is "
                f"outside what “{quantity.label}” can be, {span}.",
            )


def _too_narrow(
    rule: RuleText, text: RulebookText, u: Mapping[str, float]
) -> Iterator[Contradiction]:
    quantity = QUANTITIES[rule.quantity]
    spread = u.get(rule.quantity, quantity.repeatability)
    for stage in sorted(rule.stages):
        lower, upper = rule.limits(stage)
        if lower is None or upper is None or lower > upper:
            continue
        if no_value_passes(
            spread,
            lower=lower / 1_000_000,
            upper=upper / 1_000_000,
            confidence=float(text.confidence),
        ):
            yield Contradiction(
                fault=Fault.NO_VALUE_PASSES,
                rules=(rule.number,),
                sentence=f"Rule {rule.number}: {limit_text(lower, quantity)} to "
                f"{limit_text(upper, quantity)} is narrower than the doubt of the "
                f"measurement (u about {limit_text(round(spread * 1e6), quantity)}): "
                "no value is a pass, a conditional pass at best.",
            )
            return


def _never_asked(rule: RuleText) -> Iterator[Contradiction]:
    has_after = rule.lower_after is not None or rule.upper_after is not None
    if has_after and Stage.AFTER not in rule.stages:
        yield Contradiction(
            fault=Fault.NEVER_ASKED,
            rules=(rule.number,),
            sentence=f"Rule {rule.number} has a limit for after the race, and is asked "
            "before it only.",
        )


def _impossible(
    rule: RuleText, classes: Mapping[str, frozenset[FrontCarrier]]
) -> Iterator[Contradiction]:
    quantity = QUANTITIES[rule.quantity]
    lacking = {one for one in FrontCarrier if quantity.needs_of(one) is None}
    if not lacking:
        return
    if rule.condition_key == "front_carrier":
        if FrontCarrier(rule.condition_word) in lacking:
            carried = f"a car whose front is on the {rule.condition_word}"
            yield _no_such(rule, carried)
        return
    for name, carriers in classes.items():
        if name in (rule.classes or classes) and carriers and carriers <= lacking:
            yield _no_such(rule, f"any car of {name}")


def _no_such(rule: RuleText, car: str) -> Contradiction:
    label = QUANTITIES[rule.quantity].label
    return Contradiction(
        fault=Fault.NO_SUCH_QUANTITY,
        rules=(rule.number,),
        sentence=f"Rule {rule.number}: there is no “{label}” of {car}.",
    )


def _classes_without_rule(
    rules: tuple[RuleText, ...], around: Surroundings
) -> Iterator[Contradiction]:
    for name in around.classes:
        if not any(not rule.classes or name in rule.classes for rule in rules):
            yield Contradiction(
                fault=Fault.CLASS_WITHOUT_RULE,
                sentence=f"No rule speaks of {name}.",
            )
