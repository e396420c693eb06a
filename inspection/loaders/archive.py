"""What an archive is made of: the rows of every table in pages, and signed texts."""

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any, Final

from django.db import models
from django.db.migrations.loader import MigrationLoader

from inspection.models import SealContent

_SHEETS_AT_ONCE: Final = 100


def newest_migrations() -> dict[str, str]:
    """Give the last migration of each app: of the same, tables are alike."""
    leaves = sorted(MigrationLoader(None).graph.leaf_nodes())
    named = groupby(leaves, key=lambda node: node[0])
    newest = {app: " ".join(name for _app, name in nodes) for app, nodes in named}
    return {app: newest[app] for app in ("inventory", "inspection")}


def rows_of(
    model: type[models.Model], names: Sequence[str], *, key: str, at_once: int
) -> Iterator[list[tuple[Any, ...]]]:
    """Read some columns of a table, its key among them, in pages by the key."""
    at = names.index(key)
    rows = model._base_manager.order_by("pk").values_list(*names)
    chunk = list(rows[:at_once])
    while chunk:
        yield chunk
        chunk = list(rows.filter(pk__gt=chunk[-1][at])[:at_once])


def signed_texts() -> Iterator[tuple[str, str]]:
    """Give what each seal signs, by the number of its sheet."""
    signed = SealContent.objects.select_related("seal__sheet").order_by("pk")
    chunk = list(signed[:_SHEETS_AT_ONCE])
    while chunk:
        for one in chunk:
            yield one.seal.sheet.number, one.text
        chunk = list(signed.filter(pk__gt=chunk[-1].pk)[:_SHEETS_AT_ONCE])
