"""Rulebooks to start from: four files that come with the program, and their names."""

from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Final

from inspection.compute.rulebooks import RulebookText
from inspection.files.rulebooks import read_rulebook

_FOLDER: Final = Path(__file__).parent / "starting"


class StartingBook(StrEnum):
    """The rulebooks that come with the program, the shortest first."""

    FIRST_STEPS = "first_steps"
    SALOONS = "saloons"
    PROTOTYPES = "prototypes"
    TWO_CLASSES = "two_classes"


@cache
def read_starting_book(book: StartingBook) -> RulebookText:
    """Read one of the rulebooks that come with the program."""
    return read_rulebook((_FOLDER / f"{book}.json").read_bytes())


def classes_of(text: RulebookText) -> list[str]:
    """Name the classes of which a rulebook's rules speak, in their order."""
    return list(dict.fromkeys(name for rule in text.rules for name in rule.classes))


def renamed(text: RulebookText, name: str, classes: Mapping[str, str]) -> RulebookText:
    """
    Give the rulebook under other names.

    ``classes``: by the file's name of a class, the club's.
    """
    rules = (
        replace(rule, classes=tuple(classes[one] for one in rule.classes))
        for rule in text.rules
    )
    return replace(text, rulebook=name, rules=tuple(rules))
