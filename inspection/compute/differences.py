"""
What differs between two editions of a rulebook, in words.

Rules are matched by their number, and what is left by what they say; limits are
whole millionths of the quantity's unit.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from inspection.compute.quantities import QUANTITIES, Quantity
from inspection.compute.requirements import Stage
from inspection.compute.rulebook import RulebookText, RuleText, limit_text


class Change(StrEnum):
    """What became of a rule."""

    SAME = "same"
    CHANGED = "changed"
    ADDED = "added"
    REMOVED = "removed"


class Tends(StrEnum):
    """Whom a change of a limit favours."""

    STRICTER = "stricter"
    LOOSER = "looser"
    NEITHER = ""


@dataclass(frozen=True, kw_only=True)
class PartChange:
    """One thing that a rule says otherwise: what, before, after, and which way."""

    what: str
    before: str
    after: str
    tends: Tends = Tends.NEITHER

    @property
    def sentence(self) -> str:
        """The change in words."""
        way = f" ({self.tends})" if self.tends else ""
        return f"{self.what}: {self.before or 'none'} → {self.after or 'none'}{way}"


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
    """
    found = matching(before.rules, after.rules)
    pairs = list(zip(found, after.rules, strict=True))
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
    """
    numbers = {rule.number: at for at, rule in enumerate(before)}
    found = [numbers.get(rule.number) for rule in after]
    free = [at for at in range(len(before)) if at not in found]
    # What is left is the same rule under another number if it limits the same.
    for place, rule in enumerate(after):
        if found[place] is None:
            same = [at for at in free if _subject(before[at]) == _subject(rule)]
            if len(same) == 1:
                found[place] = same[0]
                free.remove(same[0])
    return tuple(found)


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
    for what, say in (
        ("Rulebook", lambda text: text.rulebook),
        ("Decision rule", lambda text: text.decision_rule.value),
        ("Confidence", lambda text: f"{(100 * text.confidence).normalize():f} %"),
        ("Note", lambda text: text.note),
    ):
        one, other = say(before), say(after)
        if one != other:
            yield PartChange(what=what, before=one, after=other)


def _of_rules(before: RuleText, after: RuleText) -> Iterator[PartChange]:
    for what, say in _SAID:
        one, other = say(before), say(after)
        if one != other:
            yield PartChange(what=what, before=one, after=other)
    one_quantity, other_quantity = (
        QUANTITIES[before.quantity],
        QUANTITIES[after.quantity],
    )
    for what, stored, holding, sign in _LIMITS:
        one = _limit(stored(before), one_quantity)
        other = _limit(stored(after), other_quantity)
        if one != other:
            same = one_quantity is other_quantity
            tends = _tends(holding(before), holding(after), sign)
            yield PartChange(
                what=what,
                before=one,
                after=other,
                tends=tends if same else Tends.NEITHER,
            )


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


def classes_text(rule: RuleText) -> str:
    """
    Name the classes that a rule speaks of.

    Parameters
    ----------
    rule : RuleText
        The rule.

    Returns
    -------
    str
        A rule that names none speaks of all.
    """
    return ", ".join(sorted(rule.classes)) or "all classes"


def condition_text(rule: RuleText) -> str:
    """
    Say of which cars a rule speaks.

    Parameters
    ----------
    rule : RuleText
        The rule.

    Returns
    -------
    str
        Empty for every car.
    """
    if not rule.condition_key:
        return ""
    return f"{QUANTITIES[rule.condition_key].label.lower()} {rule.condition_word}"


def _stage(rule: RuleText) -> str:
    if rule.stage is Stage.BOTH:
        return "before and after the race"
    return f"{rule.stage} the race"


#: What a rule says in words, and how it says it.
_SAID: tuple[tuple[str, Callable[[RuleText], str]], ...] = (
    ("Number", lambda rule: rule.number),
    ("Sentence", lambda rule: rule.sentence),
    ("Quantity", lambda rule: QUANTITIES[rule.quantity].label),
    ("Required", lambda rule: rule.required.value if rule.required else ""),
    ("Force", lambda rule: rule.force.value),
    ("Asked", _stage),
    ("Evidence", lambda rule: rule.evidence.value),
    ("Classes", classes_text),
    ("Only for", condition_text),
)
_Limit: TypeAlias = Callable[[RuleText], int | None]
#: Each limit as it is written and as it holds, and which way it is stricter.
_LIMITS: tuple[tuple[str, _Limit, _Limit, int], ...] = (
    ("Lower limit", lambda rule: rule.lower, lambda rule: rule.lower, 1),
    ("Upper limit", lambda rule: rule.upper, lambda rule: rule.upper, -1),
    (
        "Lower limit after the race",
        lambda rule: rule.lower_after,
        lambda rule: rule.limits(Stage.AFTER)[0],
        1,
    ),
    (
        "Upper limit after the race",
        lambda rule: rule.upper_after,
        lambda rule: rule.limits(Stage.AFTER)[1],
        -1,
    ),
)
