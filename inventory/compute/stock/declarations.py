"""
What the declaration of a kind of part is made of: its facts and its sizes.

A fact is said of a part in words, by a count or by one word of a closed set; a size
is measured.  `kinds` holds the declarations themselves.
"""

import re
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields, replace
from enum import StrEnum
from functools import cached_property
from types import MappingProxyType
from typing import get_args, get_type_hints

from inventory.compute.errors import ComputeError
from inventory.compute.numbers import Unit
from inventory.compute.stock.words import PartKind, PartQuantity, Section

#: What is known of one fact of one part.
FactValue = str | int | None


class NotAFactError(ComputeError):
    """The text says nothing that the fact may be."""

    code = "not_a_fact"

    def __init__(self, fact: "Fact") -> None:
        super().__init__(f"this is no {fact.name or fact.label.casefold()}")
        self.fact = fact


@dataclass(frozen=True, kw_only=True)
class Fact:
    """
    One fact that is said of the parts of a kind.

    ``name``, ``words``, ``is_count`` and ``is_required`` are taken from the field
    that the fact is written on.

    Attributes
    ----------
    label : str
        What its field of a form is called.
    headings : frozenset of str
        Words over its column of a table; where several words make one, all of them.
    say : str
        How a part's line says it; empty: it does not.
    on_label : str
        How it is written large on a bag's label; empty: it is not.
    longest : int
        Letters that are kept of it.
    low, high : int
        Least and greatest count.
    looks : str
        Pattern of its words, by which a column without a heading is known.
    help : str
        Beside its field.
    only_of : tuple of str
        Name and value of another fact without which it is not said.
    refusal : str
        Why not.
    """

    label: str
    headings: frozenset[str] = frozenset()
    say: str = "{}"
    on_label: str = ""
    longest: int = 30
    low: int = 0
    high: int = 0
    looks: str = ""
    help: str = ""
    only_of: tuple[str, str] | None = None
    refusal: str = ""
    name: str = ""
    words: type[StrEnum] | None = None
    is_count: bool = False
    is_required: bool = False

    def is_likely(self, text: str) -> bool:
        r"""
        Tell whether a text looks like the fact, whatever stands over it.

        Examples
        --------
        >>> Fact(label="Pitch", looks=r"\d+ pitch").is_likely("64 Pitch")
        True
        """
        if self.looks:
            return re.fullmatch(self.looks, text.strip().casefold()) is not None
        try:
            self.read(text)
        except NotAFactError:
            return False
        return True

    def read(self, text: str) -> FactValue:
        """
        Read the fact as it is typed.

        Parameters
        ----------
        text : str
            Not empty.

        Returns
        -------
        str or int
            The word or the count.

        Raises
        ------
        NotAFactError
            If it is too long, no word of the set, or no count in its range.

        Examples
        --------
        >>> Fact(label="Teeth", is_count=True, low=4, high=400).read(" 28 ")
        28
        """
        trimmed = text.strip()
        if self.words is not None:
            for word in self.words:
                if word.value == trimmed.casefold():
                    return word
            raise NotAFactError(self)
        if self.is_count:
            # As a spreadsheet writes a whole number.
            digits = trimmed.removesuffix(".0")
            if not (digits.isascii() and digits.isdigit()) or not (
                self.low <= int(digits) <= self.high
            ):
                raise NotAFactError(self)
            return int(digits)
        return trimmed


@dataclass(frozen=True, kw_only=True)
class PartFacts:
    """What a part is, besides its sizes; each kind has a class of its own."""


def facts_of(facts: type[PartFacts]) -> tuple[Fact, ...]:
    """
    List the facts of a class of them, in the order in which they are written.

    Parameters
    ----------
    facts : type of PartFacts
        Its fields are annotated, each with its `Fact`.

    Returns
    -------
    tuple of Fact
        One a field, with its name and what its values are.

    Examples
    --------
    >>> from inventory.compute.stock.kinds import MotorFacts
    >>> facts_of(MotorFacts)[0].name
    'family'
    """
    hints = get_type_hints(facts, include_extras=True)
    return tuple(
        _fact(one.name, hints[one.name], is_required=one.default is MISSING)
        for one in fields(facts)
    )


def _fact(name: str, hint: object, *, is_required: bool) -> Fact:
    value, *_ = get_args(hint)
    declared = next(one for one in get_args(hint) if isinstance(one, Fact))
    types = get_args(value) or (value,)
    words = [one for one in types if isinstance(one, type) and issubclass(one, StrEnum)]
    return replace(
        declared,
        name=name,
        words=words[0] if words else None,
        is_count=int in types,
        is_required=is_required,
    )


class Least(StrEnum):
    """How low the values of a size go."""

    ABOVE_ZERO = "above 0"
    ZERO = "0"
    BELOW_ZERO = "below 0"


@dataclass(frozen=True, kw_only=True, eq=False)
class Size:
    """
    A size that the parts of a kind are measured by.

    Attributes
    ----------
    quantity : PartQuantity
        What is measured.
    repeatability : float
        Standard deviation of repeated readings by one person, in the unit.
    unit : Unit
        Unit of the value and of its uncertainty.
    column : str
        What its column of a table is called.
    headings : frozenset of str
        Words over that column, as of a fact.
    edges : mapping of Section to frozenset of str
        Where it is read besides the middle, with the words over those columns.
    plausible : tuple of float, optional
        Least and greatest that a part can have, in the unit.
    least : Least
        How low its values go.
    """

    quantity: PartQuantity
    repeatability: float
    unit: Unit = Unit.MILLIMETRE
    column: str = ""
    headings: frozenset[str] = frozenset()
    edges: Mapping[Section, frozenset[str]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    plausible: tuple[float, float] | None = None
    least: Least = Least.ABOVE_ZERO

    @property
    def name(self) -> str:
        """What it is called in a table and in sentences."""
        return self.column or self.quantity.value.replace("_", " ")


@dataclass(frozen=True, kw_only=True, eq=False)
class KindOfPart:
    """
    One kind of part: all that forms, search, tables and fit need to know of it.

    Attributes
    ----------
    kind : PartKind
        Its word, which also names the table of its facts.
    plural : str
        Several of them.
    prefix : str
        The letter that its tags begin with.
    facts : type of PartFacts
        What is said of one.
    sizes : tuple of Size
        What is measured, first the one that it is known by.
    is_sized : bool
        Whether a row of a table has to say that first size.
    told_by : frozenset of str
        Words over a column of a table that no part of another kind has, whether
        anything is kept of it or not.
    """

    kind: PartKind
    plural: str
    prefix: str
    facts: type[PartFacts]
    sizes: tuple[Size, ...]
    is_sized: bool = True
    told_by: frozenset[str] = frozenset()

    @property
    def main(self) -> Size:
        """The size that a part is known by."""
        return self.sizes[0]

    @cached_property
    def fact_list(self) -> tuple[Fact, ...]:
        """The facts, in the order in which they are said."""
        return facts_of(self.facts)

    def read_facts(self, words: Mapping[str, str]) -> PartFacts:
        """
        Make the facts of a part out of words by name; of other words, none.

        Raises
        ------
        NotAFactError
            If one of them is no such fact.
        """
        values = {
            fact.name: fact.read(words[fact.name])
            for fact in self.fact_list
            if words.get(fact.name)
        }
        return self.facts(**values)
