"""
What differs between two editions of a rulebook.

Rules are matched by their number, and what is left by what they say; limits are
whole millionths of the quantity's unit.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias

from inspection.compute.judging import WORST_ADMITTED, DecisionRule
from inspection.compute.quantities import QUANTITIES, Quantity
from inspection.compute.rulebooks.requirements import Force, Stage
from inspection.compute.rulebooks.text import RulebookText, RuleText, limit_text


class Change(StrEnum):
    """What became of a rule."""

    SAME = "same"
    CHANGED = "changed"
    ADDED = "added"
    REMOVED = "removed"


class Tends(StrEnum):
    """Whether a change refuses more cars than before, or fewer."""

    STRICTER = "stricter"
    LOOSER = "looser"
    NEITHER = ""


class Part(StrEnum):
    """What an edition, or a rule of it, says."""

    RULEBOOK = "Rulebook"
    DECISION_RULE = "Decision rule"
    CONFIDENCE = "Confidence"
    NOTE = "Note"
    NUMBER = "Number"
    SENTENCE = "Sentence"
    QUANTITY = "Quantity"
    REQUIRED = "Required"
    FORCE = "Force"
    ASKED = "Asked"
    EVIDENCE = "Evidence"
    CLASSES = "Classes"
    ONLY_FOR = "Only for"
    LOWER = "Lower limit"
    UPPER = "Upper limit"
    LOWER_AFTER = "Lower limit after the race"
    UPPER_AFTER = "Upper limit after the race"


@dataclass(frozen=True)
class Limit:
    """A limit in millionths of the unit of a quantity, named by its key."""

    millionths: int
    quantity: str


#: What is said of a part: a text as it was written, the member of an enumeration, the
#: names of classes, the key of a condition and its word, or a figure; None: nothing.
Said: TypeAlias = str | StrEnum | tuple[str, ...] | Decimal | Limit | None


@dataclass(frozen=True, kw_only=True)
class PartChange:
    """One thing that a rule says otherwise: what, before, after, and which way."""

    what: Part
    before: Said
    after: Said
    tends: Tends = Tends.NEITHER


@dataclass(frozen=True, kw_only=True)
class RuleChange:
    """
    One rule in both editions.

    Attributes
    ----------
    change : Change
        What became of it.
    before, after : RuleText or None
        The rule in either edition.
    parts : tuple of PartChange
        What it says otherwise; empty unless changed.
    """

    change: Change
    before: RuleText | None
    after: RuleText | None
    parts: tuple[PartChange, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Difference:
    """
    Two editions side by side.

    Attributes
    ----------
    edition : tuple of PartChange
        What the editions themselves say otherwise.
    rules : tuple of RuleChange
        Every rule, in the order of the later edition, removed ones where they
        stood.
    is_reordered : bool
        Whether the rules that both have stand in another order.
    """

    edition: tuple[PartChange, ...]
    rules: tuple[RuleChange, ...]
    is_reordered: bool

    @property
    def changes(self) -> tuple[RuleChange, ...]:
        """The rules that are not the same."""
        return tuple(one for one in self.rules if one.change is not Change.SAME)

    @property
    def is_none(self) -> bool:
        """Whether both say the same, in the same order."""
        return not (self.edition or self.changes or self.is_reordered)


def difference(before: RulebookText, after: RulebookText) -> Difference:
    """
    Compare two editions rule by rule.

    Parameters
    ----------
    before, after : RulebookText
        The earlier and the later edition.

    Returns
    -------
    Difference
        ``is_none`` just where the two files differ in nothing but the number of
        the edition.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from decimal import Decimal
    >>> rule = RuleText(number="1", sentence="", quantity="twist", upper=50_000)
    >>> first = RulebookText(
    ...     rulebook="club",
    ...     edition=1,
    ...     decision_rule=DecisionRule.SIMPLE_ACCEPTANCE,
    ...     confidence=Decimal("0.95"),
    ...     note="",
    ...     rules=(rule,),
    ... )
    >>> second = replace(first, rules=(replace(rule, upper=40_000),))
    >>> part = difference(first, second).changes[0].parts[0]
    >>> part.what.value, part.after.millionths, part.tends.value
    ('Upper limit', 40000, 'stricter')
    """
    was_at = matching(before.rules, after.rules)
    pairs = list(zip(was_at, after.rules, strict=True))
    places = [at for at, _ in pairs if at is not None]
    rules = [
        _rule_change(None if at is None else before.rules[at], rule)
        for at, rule in pairs
    ]
    for at, rule in enumerate(before.rules):
        if at not in places:
            rules.insert(_where(at, pairs, rules), _rule_change(rule, None))
    return Difference(
        edition=tuple(_of_editions(before, after)),
        rules=tuple(rules),
        is_reordered=places != sorted(places),
    )


def matching(
    before: tuple[RuleText, ...], after: tuple[RuleText, ...]
) -> tuple[int | None, ...]:
    """
    Find for each rule the one that it was.

    Parameters
    ----------
    before, after : tuple of RuleText
        Rules of the earlier and the later edition.

    Returns
    -------
    tuple of (int or None)
        Position in ``before`` a rule of ``after``; ``None`` for a new one.

    Examples
    --------
    >>> def rule(number, quantity):
    ...     return RuleText(number=number, sentence="", quantity=quantity)
    >>> before = (rule("1", "weight_car"), rule("2", "clearance_rear"))
    >>> matching(before, (rule("3", "clearance_rear"), rule("4", "clearance_front")))
    (1, None)
    """
    numbers = {rule.number: at for at, rule in enumerate(before)}
    was_at = [numbers.get(rule.number) for rule in after]
    free = [at for at in range(len(before)) if at not in was_at]
    # What is left is the same rule under another number if it limits the same.
    for place, rule in enumerate(after):
        if was_at[place] is None:
            same = [at for at in free if _subject(before[at]) == _subject(rule)]
            if len(same) == 1:
                was_at[place] = same[0]
                free.remove(same[0])
    return tuple(was_at)


def _subject(rule: RuleText) -> tuple[object, ...]:
    return (
        rule.quantity,
        rule.classes,
        rule.condition_key,
        rule.condition_word,
        rule.stage,
        rule.evidence,
    )


def _where(
    at: int, pairs: list[tuple[int | None, RuleText]], rules: list[RuleChange]
) -> int:
    """Place a removed rule behind the last kept one that stood before it."""
    kept = [rule.number for place, rule in pairs if place is not None and place < at]
    behind = 0
    for position, change in enumerate(rules):
        if change.after is None or change.after.number in kept:
            behind = position + 1
    return behind


def _rule_change(before: RuleText | None, after: RuleText | None) -> RuleChange:
    if before is None:
        return RuleChange(change=Change.ADDED, before=None, after=after)
    if after is None:
        return RuleChange(change=Change.REMOVED, before=before, after=None)
    parts = tuple(_of_rules(before, after))
    return RuleChange(
        change=Change.CHANGED if parts else Change.SAME,
        before=before,
        after=after,
        parts=parts,
    )


def _of_editions(before: RulebookText, after: RulebookText) -> Iterator[PartChange]:
    for what, say in _SAID_OF_EDITION:
        one, other = say(before), say(after)
        if one != other:
            tends = _EDITION_TENDS.get(what, _neither)(before, after)
            yield PartChange(what=what, before=one, after=other, tends=tends)


def _neither(before: RulebookText, after: RulebookText) -> Tends:
    return Tends.NEITHER


def _rule_tends(before: RulebookText, after: RulebookText) -> Tends:
    """Of two decision rules the one that admits fewer outcomes is stricter."""
    one, other = (WORST_ADMITTED[text.decision_rule] for text in (before, after))
    return Tends.STRICTER if other < one else Tends.LOOSER


def _confidence_tends(before: RulebookText, after: RulebookText) -> Tends:
    """
    Say which way a wider guard band goes, or a narrower one.

    A wider one refuses more where it is inside the limit and less where it is
    outside; at the limit itself, and under another decision rule, it says neither.
    """
    rule = after.decision_rule
    if rule is not before.decision_rule or rule is DecisionRule.SIMPLE_ACCEPTANCE:
        return Tends.NEITHER
    wider = after.confidence > before.confidence
    refuses_more = wider is (rule is DecisionRule.GUARDED_ACCEPTANCE)
    return Tends.STRICTER if refuses_more else Tends.LOOSER


def _of_rules(before: RuleText, after: RuleText) -> Iterator[PartChange]:
    for what, say in _SAID:
        one, other = say(before), say(after)
        if one != other:
            tends = _force_tends(after) if what is Part.FORCE else Tends.NEITHER
            yield PartChange(what=what, before=one, after=other, tends=tends)
    one_quantity, other_quantity = (
        QUANTITIES[before.quantity],
        QUANTITIES[after.quantity],
    )
    for what, stored, holding, sign in _LIMITS:
        was, now = stored(before), stored(after)
        if _limit(was, one_quantity) != _limit(now, other_quantity):
            same = one_quantity is other_quantity
            tends = _tends(holding(before), holding(after), sign)
            yield PartChange(
                what=what,
                before=None if was is None else Limit(was, before.quantity),
                after=None if now is None else Limit(now, after.quantity),
                tends=tends if same else Tends.NEITHER,
            )


def _force_tends(after: RuleText) -> Tends:
    is_binding = after.force is Force.MANDATORY
    return Tends.STRICTER if is_binding else Tends.LOOSER


def _limit(millionths: int | None, quantity: Quantity) -> str:
    return "" if millionths is None else limit_text(millionths, quantity)


def _tends(before: int | None, after: int | None, sign: int) -> Tends:
    if before == after:
        return Tends.NEITHER
    if before is None:
        return Tends.STRICTER
    if after is None:
        return Tends.LOOSER
    return Tends.STRICTER if sign * (after - before) > 0 else Tends.LOOSER


def _condition(rule: RuleText) -> tuple[str, ...]:
    """Give of which cars a rule speaks: what decides, and its word; empty for all."""
    return (rule.condition_key, rule.condition_word) if rule.condition_key else ()


#: Which way a change of an edition goes, where it goes either.
_EDITION_TENDS: dict[Part, Callable[[RulebookText, RulebookText], Tends]] = {
    Part.DECISION_RULE: _rule_tends,
    Part.CONFIDENCE: _confidence_tends,
}
#: What an edition says but for its rules.
_SAID_OF_EDITION: tuple[tuple[Part, Callable[[RulebookText], Said]], ...] = (
    (Part.RULEBOOK, lambda text: text.rulebook),
    (Part.DECISION_RULE, lambda text: text.decision_rule),
    (Part.CONFIDENCE, lambda text: text.confidence),
    (Part.NOTE, lambda text: text.note),
)
#: What a rule says but for its limits.
_SAID: tuple[tuple[Part, Callable[[RuleText], Said]], ...] = (
    (Part.NUMBER, lambda rule: rule.number),
    (Part.SENTENCE, lambda rule: rule.sentence),
    (Part.QUANTITY, lambda rule: rule.quantity),
    (Part.REQUIRED, lambda rule: rule.required),
    (Part.FORCE, lambda rule: rule.force),
    (Part.ASKED, lambda rule: rule.stage),
    (Part.EVIDENCE, lambda rule: rule.evidence),
    (Part.CLASSES, lambda rule: tuple(sorted(rule.classes))),
    (Part.ONLY_FOR, _condition),
)
_Limit: TypeAlias = Callable[[RuleText], int | None]
#: Each limit as it is written and as it holds, and which way it is stricter.
_LIMITS: tuple[tuple[Part, _Limit, _Limit, int], ...] = (
    (Part.LOWER, lambda rule: rule.lower, lambda rule: rule.lower, 1),
    (Part.UPPER, lambda rule: rule.upper, lambda rule: rule.upper, -1),
    (
        Part.LOWER_AFTER,
        lambda rule: rule.lower_after,
        lambda rule: rule.limits(Stage.AFTER)[0],
        1,
    ),
    (
        Part.UPPER_AFTER,
        lambda rule: rule.upper_after,
        lambda rule: rule.limits(Stage.AFTER)[1],
        -1,
    ),
)
