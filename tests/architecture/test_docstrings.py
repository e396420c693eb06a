"""What a computing room offers says what it takes and gives, with an example."""

import importlib
import inspect
from collections.abc import Callable, Iterator
from typing import Any

from tests.architecture.test_structure import rooms


def public_functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for room in rooms():
        door = importlib.import_module(room)
        for name in door.__all__:
            thing = getattr(door, name)
            if inspect.isfunction(thing):
                yield f"{room}.{name}", thing


def lacks(function: Callable[..., Any]) -> set[str]:
    lines = {line.strip() for line in (function.__doc__ or "").splitlines()}
    signature = inspect.signature(function)
    due = {"Examples"}
    if signature.parameters:
        due.add("Parameters")
    # `None` as a word where annotations are not evaluated.
    if signature.return_annotation not in {None, "None"} and "Yields" not in lines:
        due.add("Returns")
    return due - lines


def test_each_function_of_a_door_says_what_it_takes_and_gives() -> None:
    wanting = {name: short for name, one in public_functions() if (short := lacks(one))}
    assert wanting == {}


def test_each_function_of_a_door_has_an_example_that_runs() -> None:
    # That it runs is for the doctests: here that it is one, and not skipped.
    functions = dict(public_functions())
    assert len(functions) > 150, "the doors were not found"
    none = [name for name, one in functions.items() if ">>> " not in str(one.__doc__)]
    skipped = [name for name, one in functions.items() if "+SKIP" in str(one.__doc__)]
    assert (none, skipped) == ([], [])
