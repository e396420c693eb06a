"""
The English that is declared where no mark stands: enumerations, quantities, kinds.

It is looked up as it is read (`word_of`, `quantity_name`); `makemessages` is told of it
here.
"""

import importlib
import pkgutil
from collections.abc import Iterator
from enum import StrEnum
from itertools import product
from types import ModuleType

import inspection.compute
import inventory.compute
from inspection.compute.fit import needs_of
from inspection.compute.quantities import QUANTITIES, FrontCarrier, Layout
from inventory.compute.measuring import USUAL_GAUGES
from inventory.compute.stock import KINDS


def declared_words() -> tuple[str, ...]:
    """
    Give all of it, each once and in order.

    Returns
    -------
    tuple of str
        As it stands in English.
    """
    words = {*_of_enumerations(), *_of_quantities(), *_of_kinds(), *_of_questions()}
    words.update(usual.name for usual in USUAL_GAUGES)
    return tuple(sorted(words - {""}))


def _of_enumerations() -> Iterator[str]:
    for package in (inspection.compute, inventory.compute):
        for module in _modules_of(package):
            for thing in vars(module).values():
                if isinstance(thing, type) and issubclass(thing, StrEnum):
                    yield from (member.value for member in thing)


def _modules_of(package: ModuleType) -> Iterator[ModuleType]:
    for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        yield importlib.import_module(module.name)


def _of_quantities() -> Iterator[str]:
    for quantity in QUANTITIES.values():
        yield from (quantity.label, quantity.how)


def _of_kinds() -> Iterator[str]:
    for kind in KINDS.values():
        yield kind.plural
        for fact in kind.fact_list:
            yield from (fact.label, fact.say, fact.help, fact.refusal)
            yield fact.name.replace("_", " ")
        for size in kind.sizes:
            yield from (size.quantity.replace("_", " "), size.column)


def _of_questions() -> Iterator[str]:
    for layout, carrier in product(Layout, FrontCarrier):
        for question in needs_of(layout, carrier):
            yield question.title
            yield from (need.name.replace("_", " ") for need in question.needs)
