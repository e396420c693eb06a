"""Which tables an archive holds, in the order in which they are written back."""

import inspect
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from django.apps import apps
from django.db import models

from inspection.files.archive.columns import Column, column_of

#: Not of the club, or worked out again of what is.
LEFT_OUT: Final = {
    "inventory_beginning": "the address that begins a club with nobody in it",
    "inventory_handedlink": "links by which people come in, which are secrets",
    "inventory_takeovercode": "codes by which people come in, which are secrets",
    "inventory_invitedrole": "what those links give",
    "inventory_apitoken": "tokens of the API, which are secrets",
    "inventory_keptanswer": "answers of the API that are given again for a day",
    "inventory_changenumber": "places in this installation's own feed of changes",
    "inventory_opensession": "who is signed in on which device",
    "inventory_batchdraft": "files on their way in, of which nothing is stock yet",
    "inspection_caliperbox": "devices with tokens of their own, which are secrets",
    "inspection_listdraft": "lists on their way in, of which nothing is kept yet",
    "inspection_nightsums": "sums that are worked out again of the sheets",
}
#: Passwords do not travel; what a seal signs is a file beside the tables.
HIDDEN: Final = {
    "inventory_person": frozenset({"password", "last_login"}),
    "inspection_sealcontent": frozenset({"packed"}),
}
#: A published edition takes no more rules, a void or sealed sheet no more readings.
#: A row that names one of a later table waits for it: the database looks at the end.
_LAST: Final = (
    "inspection_edition",
    "inspection_sheetvoid",
    "inspection_seal",
    # Its rows come to what ends them: an entry has one open sheet at a time, a night
    # one sample.
    "inspection_sheet",
    "inspection_samplevoid",
    "inspection_sample",
    "inspection_sealcontent",
    "inspection_sealinputs",
)
#: Rows of pictures are heavy: so many are held at once, of the others more.
_HEAVY: Final = frozenset({"inspection_notepicture"})
_ROWS_AT_ONCE: Final = 1000
_HEAVY_AT_ONCE: Final = 10
SEALED: Final = "inspection_sealcontent"


@dataclass(frozen=True, kw_only=True)
class ArchiveTable:
    """A table of the archive."""

    model: type[models.Model]
    columns: tuple[Column, ...]

    @property
    def name(self) -> str:
        return self.model._meta.db_table

    @property
    def key(self) -> str:
        return self.model._meta.pk.attname

    @property
    def rows_at_once(self) -> int:
        return _HEAVY_AT_ONCE if self.name in _HEAVY else _ROWS_AT_ONCE

    @property
    def words(self) -> str:
        """Say what a row is; what the table's own description begins with."""
        return (inspect.getdoc(self.model) or "").partition("\n\n")[0].strip()


@cache
def tables() -> tuple[ArchiveTable, ...]:
    """Give every table of the club."""
    models = [
        model
        for app in ("inventory", "inspection")
        for model in apps.get_app_config(app).get_models(include_auto_created=True)
        if model._meta.db_table not in LEFT_OUT
    ]
    return tuple(map(_table, sorted(models, key=_turn)))


def _turn(model: type[models.Model]) -> int:
    name = model._meta.db_table
    return _LAST.index(name) + 1 if name in _LAST else 0


def _table(model: type[models.Model]) -> ArchiveTable:
    hidden = HIDDEN.get(model._meta.db_table, frozenset())
    fields: list[models.Field[Any, Any]] = list(model._meta.concrete_fields)
    return ArchiveTable(
        model=model,
        columns=tuple(
            column_of(field) for field in fields if field.attname not in hidden
        ),
    )
