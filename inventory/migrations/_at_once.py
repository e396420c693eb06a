"""
All tables of a new installation in one step.

Ninety migrations change the same models again and again, and Django draws every
related model anew for each: ten seconds of computing before an empty club's first
page.  Here their changes of state are added up first, which costs next to nothing, and
the tables are made as they end.  What the state does not know (triggers, an index with
its own operators) is then done by the operations that first did it, in their order;
steps that carry rows over have nothing to do in an empty place.
"""

from collections.abc import Iterable, Sequence
from importlib import import_module
from typing import Any

from django.db.migrations.migration import Migration
from django.db.migrations.operations.base import Operation

from inventory.migrations._indexes import AddBeginningIndex
from inventory.migrations._refusals import RefuseWrites


class MakeAtOnce(Operation):
    """Make what the named migrations of an app end in; their names in order."""

    reduces_to_sql = False
    reversible = False

    def __init__(self, package: str, names: Sequence[str]) -> None:
        self.package, self.names = package, names

    def describe(self) -> str:
        return f"Make the tables of {self.package} at once"

    def _operations(self) -> list[Operation]:
        modules = (import_module(f"{self.package}.{name}") for name in self.names)
        return [one for module in modules for one in module.Migration.operations]

    def state_forwards(self, app_label: str, state: Any) -> None:
        # Models that are drawn already would be drawn anew at each change.
        state.clear_delayed_apps_cache()
        state.__dict__.pop("apps", None)
        for operation in self._operations():
            operation.state_forwards(app_label, state)

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        vendor = schema_editor.connection.vendor
        own = [one for one in self._operations() if _is_unknown_to_state(one, vendor)]
        named = {one.index.name for one in own if isinstance(one, AddBeginningIndex)}
        for model in to_state.apps.get_app_config(app_label).get_models():
            indexes = [one for one in model._meta.indexes if one.name not in named]
            model._meta.indexes = indexes
            schema_editor.create_model(model)
        for operation in own:
            operation.database_forwards(app_label, schema_editor, from_state, to_state)


def _is_unknown_to_state(operation: Operation, vendor: str) -> bool:
    if isinstance(operation, AddBeginningIndex):
        return vendor == "postgresql"
    return isinstance(operation, RefuseWrites)


def replaced(app_label: str, names: Iterable[str]) -> list[tuple[str, str]]:
    """Give what ``Migration.replaces`` wants."""
    return [(app_label, name) for name in names]


def dependencies_outside(package: str, names: Iterable[str]) -> list[tuple[str, str]]:
    """Give the migrations of other apps that the named ones wait for, each once."""
    label = package.split(".", maxsplit=1)[0]
    found: dict[tuple[str, str], None] = {}
    for name in names:
        one: type[Migration] = import_module(f"{package}.{name}").Migration
        for dependency in one.dependencies:
            if dependency[0] not in {label, "__setting__"}:
                found[dependency] = None
    return list(found)
