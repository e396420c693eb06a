"""
What in a rulebook cannot be meant: rules that no car can meet, and the like.

Limits are whole millionths of the quantity's unit.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from inspection.compute.judging import no_value_passes
from inspection.compute.quantities import QUANTITIES, FrontCarrier
from inspection.compute.rulebooks.linked_rules import Unmeetable, unmeetable_links
from inspection.compute.rulebooks.requirements import Force, Stage
from inspection.compute.rulebooks.text import RulebookText, RuleText
from inventory.compute.numbers import from_millionths, to_millionths


class Fault(StrEnum):
    """What is wrong with a rule, or with two together."""

    NO_CAR_MEETS_BOTH = "no car meets both"
    NO_CAR_MEETS_ALL = "no car meets all"
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
    blocks : bool
        Whether the edition can be raced by no car at all, or not be judged by.
    quantity : str
        What the rules speak of, by its key.
    lower, upper : int or None
        The limits that exclude each other or are too near, in millionths; of two
        rules that exclude each other neither where one asks yes and one no.
    limit : int or None
        The limit that cannot be.
    stage : Stage or None
        When the limits hold.
    u : float
        How well the quantity is measured, in its unit.
    race_class : str
        The class concerned.
    carrier : str
        What carries the front of the cars concerned.
    link : Unmeetable or None
        What comes out of linked quantities, and what is asked.
    """

    fault: Fault
    rules: tuple[str, ...] = ()
    blocks: bool = False
    quantity: str = ""
    lower: int | None = None
    upper: int | None = None
    limit: int | None = None
    stage: Stage | None = None
    u: float = 0.0
    race_class: str = ""
    carrier: str = ""
    link: Unmeetable | None = None


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

    Examples
    --------
    >>> from decimal import Decimal
    >>> from inspection.compute.judging import DecisionRule
    >>> text = RulebookText(
    ...     rulebook="club",
    ...     edition=1,
    ...     decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
    ...     confidence=Decimal("0.95"),
    ...     note="",
    ...     rules=(
    ...         RuleText(
    ...             number="1",
    ...             sentence="The car weighs so much.",
    ...             quantity="weight_car",
    ...             lower=190_000_000,
    ...             upper=180_000_000,
    ...         ),
    ...     ),
    ... )
    >>> alone = Surroundings(classes={}, u={})
    >>> [one.fault.value for one in contradictions(text, alone)]
    ['limits crossed']
    """
    faults = [
        *_unmeetable_pairs(text.rules),
        *_unmeetable_together(text.rules, around),
        *(one for rule in text.rules for one in _of_rule(rule, text, around)),
        *_classes_without_rule(text.rules, around),
    ]
    return tuple(sorted(faults, key=lambda one: not one.blocks))


def _unmeetable_pairs(rules: tuple[RuleText, ...]) -> Iterator[Contradiction]:
    for one, other in combinations(rules, 2):
        if one.quantity != other.quantity or not _meet_a_car(one, other):
            continue
        clash = _clash(one, other)
        if clash is not None:
            lower, upper = clash
            yield Contradiction(
                fault=Fault.NO_CAR_MEETS_BOTH,
                rules=(one.number, other.number),
                quantity=one.quantity,
                lower=lower,
                upper=upper,
                blocks=one.force is other.force is Force.MANDATORY,
            )


def _unmeetable_together(
    rules: tuple[RuleText, ...], around: Surroundings
) -> Iterator[Contradiction]:
    for one in unmeetable_links(rules, tuple(around.classes)):
        yield Contradiction(
            fault=Fault.NO_CAR_MEETS_ALL,
            rules=tuple(dict.fromkeys(rule.number for rule in one.rules)),
            link=one,
            blocks=one.is_strict,
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


def _clash(one: RuleText, other: RuleText) -> tuple[int | None, int | None] | None:
    """Give the limits that exclude each other, none for a yes and a no."""
    for stage in (Stage.BEFORE, Stage.AFTER):
        if stage not in one.stages & other.stages:
            continue
        if one.required is not other.required:
            return None, None
        for low, high in ((one, other), (other, one)):
            lower, upper = low.limits(stage)[0], high.limits(stage)[1]
            if lower is not None and upper is not None and lower > upper:
                return lower, upper
    return None


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
                race_class=name,
            )
    yield from _impossible(rule, around.classes)


def _crossed(rule: RuleText) -> Iterator[Contradiction]:
    for stage in sorted(rule.stages):
        lower, upper = rule.limits(stage)
        if lower is not None and upper is not None and lower > upper:
            yield Contradiction(
                fault=Fault.LIMITS_CROSSED,
                rules=(rule.number,),
                quantity=rule.quantity,
                lower=lower,
                upper=upper,
                stage=stage,
                blocks=True,
            )
            return


def _implausible(rule: RuleText) -> Iterator[Contradiction]:
    quantity = QUANTITIES[rule.quantity]
    low, high = to_millionths(quantity.low), to_millionths(quantity.high)
    limits = (rule.lower, rule.upper, rule.lower_after, rule.upper_after)
    for limit in dict.fromkeys(limits):
        if limit is not None and not low <= limit <= high:
            yield Contradiction(
                fault=Fault.NOT_PLAUSIBLE,
                rules=(rule.number,),
                quantity=rule.quantity,
                limit=limit,
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
            lower=from_millionths(lower),
            upper=from_millionths(upper),
            confidence=float(text.confidence),
        ):
            yield Contradiction(
                fault=Fault.NO_VALUE_PASSES,
                rules=(rule.number,),
                quantity=rule.quantity,
                lower=lower,
                upper=upper,
                u=spread,
            )
            return


def _never_asked(rule: RuleText) -> Iterator[Contradiction]:
    has_after = rule.lower_after is not None or rule.upper_after is not None
    if has_after and Stage.AFTER not in rule.stages:
        yield Contradiction(
            fault=Fault.NEVER_ASKED,
            rules=(rule.number,),
        )


def _impossible(
    rule: RuleText, classes: Mapping[str, frozenset[FrontCarrier]]
) -> Iterator[Contradiction]:
    quantity = QUANTITIES[rule.quantity]
    if quantity.only_on is None:
        return
    lacking = set(FrontCarrier) - {quantity.only_on}
    if rule.condition_key == "front_carrier":
        if FrontCarrier(rule.condition_word) in lacking:
            yield _no_such(rule, carrier=rule.condition_word)
        return
    for name, carriers in classes.items():
        if name in (rule.classes or classes) and carriers and carriers <= lacking:
            yield _no_such(rule, race_class=name)


def _no_such(
    rule: RuleText, *, carrier: str = "", race_class: str = ""
) -> Contradiction:
    return Contradiction(
        fault=Fault.NO_SUCH_QUANTITY,
        rules=(rule.number,),
        quantity=rule.quantity,
        carrier=carrier,
        race_class=race_class,
    )


def _classes_without_rule(
    rules: tuple[RuleText, ...], around: Surroundings
) -> Iterator[Contradiction]:
    for name in around.classes:
        if not any(not rule.classes or name in rule.classes for rule in rules):
            yield Contradiction(fault=Fault.CLASS_WITHOUT_RULE, race_class=name)
