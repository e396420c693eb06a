"""
Queries that are asked at every reading: compiled once, run with their parameters.

Django compiles a query anew each time it is run, and makes every joined row anew for
each row: of a sheet on the block that takes longer than the database does.  Here a
query is compiled once a thread, with stand-ins for its parameters; what several rows
share, a gauge or a person, is made once a run; and a row whose cells were there before
is a copy of what was made of them then.  It leans on how Django compiles
(`SQLCompiler`, `RelatedPopulator`) and on where a row keeps its cells (`__dict__`), so
`tests/inspection/block/test_prepared.py` holds each prepared query against the plain
one.
"""

import threading
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import Any, Final, Generic, TypeAlias, TypeVar

from django.db import connections
from django.db.models import Model, QuerySet
from django.db.models.base import ModelState
from django.db.models.query import RelatedPopulator, ValuesIterable

#: Numbers that no row has, each for a parameter.
STAND_IN: Final = 8_070_605_040_302_010_101
STAND_IN_TOO: Final = 8_070_605_040_302_010_102
STAND_IN_NAME: Final = "a name that stands in"

#: Of how many rows a thread keeps what was made of them, for each table of a query.
_ROWS_KEPT: Final = 500

RowT = TypeVar("RowT")
#: What a query gave, before anything is made of it.
Fetched: TypeAlias = tuple[tuple[Any, ...], ...]
Converters: TypeAlias = dict[int, tuple[list[Callable[..., Any]], Any]]


class UnpreparedError(Exception):
    """A query does not have a stand-in among its parameters, so none can be put in."""


class Prepared(Generic[RowT]):
    """
    A query, compiled once a thread.

    Parameters
    ----------
    make : callable
        Takes the parameters, gives the queryset; one of models, or of ``values()``.
        Whatever the parameters are, its text must be the same.
    stand_ins : int or str
        A value for each parameter that stands nowhere else in the query.
    """

    def __init__(
        self, make: Callable[..., "QuerySet[Any, Any]"], *stand_ins: int | str
    ) -> None:
        self._make, self._stand_ins = make, stand_ins
        self._kept = threading.local()

    def rows(self, *given: int | str) -> list[RowT]:
        """
        Run the query.

        Parameters
        ----------
        given : int or str
            A value for each parameter.

        Returns
        -------
        list
            As the plain queryset has it; what rows share is one object.
        """
        return self.made_of(self.fetched(*given))

    def fetched(self, *given: int | str) -> Fetched:
        """
        Run the query, and make no rows yet.

        Parameters
        ----------
        given : int or str
            A value for each parameter.

        Returns
        -------
        tuple of tuple
            The cells as the database gave them: equal ones make equal rows, so they
            may be what something worked out from the rows is kept by.
        """
        return self._compiled().fetched(given)

    def made_of(self, fetched: Fetched) -> list[RowT]:
        """
        Make the rows of what was fetched.

        Parameters
        ----------
        fetched : tuple of tuple
            As ``fetched`` gave it to this thread.

        Returns
        -------
        list
            As ``rows`` gives it.
        """
        return list(self._compiled().rows(fetched))

    def _compiled(self) -> "_Compiled":
        compiled: _Compiled | None = getattr(self._kept, "compiled", None)
        if compiled is None or not compiled.is_of_now():
            compiled = _Compiled(self._make(*self._stand_ins), self._stand_ins)
            self._kept.compiled = compiled
        return compiled

    def plain(self, *given: int | str) -> "QuerySet[Any, Any]":
        """Give the same as a queryset, to filter further or to compare with."""
        return self._make(*given)


class _Compiled:
    def __init__(
        self, queryset: "QuerySet[Any, Any]", stand_ins: Sequence[int | str]
    ) -> None:
        self._db = queryset.db
        self._connection = connections[self._db]
        compiler: Any = queryset.query.get_compiler(using=self._db)
        self._sql, params = compiler.as_sql()
        self._params = tuple(params)
        self._at = [
            (at, stand_ins.index(one))
            for at, one in enumerate(self._params)
            if one in stand_ins and isinstance(one, (int, str))
        ]
        if {which for _, which in self._at} != set(range(len(stand_ins))):
            msg = f"{self._sql} has not each of {stand_ins} among its parameters."
            raise UnpreparedError(msg)
        self._compiler = compiler
        fields = [one[0] for one in compiler.select[: compiler.col_count]]
        converters: Converters = compiler.get_converters(fields)
        self._names: list[str] = []
        if issubclass(queryset._iterable_class, ValuesIterable):
            query: Any = queryset.query
            self._names = list(
                query.selected or [*query.values_select, *query.annotation_select]
            )
            self._cells = _Cells(0, len(self._names), converters, self._connection)
            return
        info = compiler.klass_info
        chosen = info["select_fields"]
        start, end = chosen[0], chosen[-1] + 1
        self._cells = _Cells(start, end, converters, self._connection)
        names = [one[0].target.attname for one in compiler.select[start:end]]
        self._rows = _Rows(info["model"], self._db, names, self._cells)
        self._related = _related(info, compiler.select, self._db, self._cells)
        self._annotated = dict(compiler.annotation_col_map or {})

    def is_of_now(self) -> bool:
        """Whether the thread still has the connection that this was compiled for."""
        return connections[self._db] is self._connection

    def fetched(self, given: Sequence[int | str]) -> Fetched:
        params = list(self._params)
        for at, which in self._at:
            params[at] = given[which]
        with self._connection.cursor() as cursor:
            cursor.execute(self._sql, params)
            return tuple(cursor.fetchall())

    def rows(self, fetched: Fetched) -> Iterator[Any]:
        if self._names:
            for row in fetched:
                yield dict(zip(self._names, self._cells.turned(row), strict=False))
            return
        seen: dict[tuple[int, Any], Any] = {}
        for row in fetched:
            made = self._rows.make(row)
            for one in self._related:
                one.put(row, made, seen)
            for name, at in self._annotated.items():
                setattr(made, name, self._cells.one(row, at))
            yield made


class _Cells:
    """A stretch of a row's cells, each turned into what its field holds."""

    def __init__(
        self, start: int, end: int, converters: Converters, connection: Any
    ) -> None:
        self._start, self._end = start, end
        self._every, self._connection = converters, connection
        self._here = [
            (at - start, *converters[at]) for at in converters if start <= at < end
        ]

    def stretch(self, start: int, end: int) -> "_Cells":
        return _Cells(start, end, self._every, self._connection)

    def raw(self, row: tuple[Any, ...]) -> tuple[Any, ...]:
        return row[self._start : self._end]

    def turned(self, raw: tuple[Any, ...]) -> list[Any]:
        cells = list(raw)
        for at, converters, expression in self._here:
            for converter in converters:
                cells[at] = converter(cells[at], expression, self._connection)
        return cells

    def one(self, row: Sequence[Any], at: int) -> Any:
        cell = row[at]
        converters, expression = self._every.get(at, ([], None))
        for converter in converters:
            cell = converter(cell, expression, self._connection)
        return cell


class _Rows:
    """
    The rows of one table in a query.

    What is kept of a row is a copy that nobody has, so what is put onto one that was
    given out, a joined row or a note, is on that one alone.
    """

    def __init__(
        self, model: type[Model], db: str, names: Sequence[str], cells: _Cells
    ) -> None:
        self._model, self._db, self._names, self._cells = model, db, names, cells
        self._kept = lru_cache(maxsize=_ROWS_KEPT)(self._from_cells)

    def make(self, row: tuple[Any, ...]) -> Any:
        kept, can_be_changed = self._kept(self._cells.raw(row))
        if can_be_changed:
            return self._from_cells(self._cells.raw(row))[0]
        made = self._model.__new__(self._model)
        made.__dict__.update(kept.__dict__)
        state = ModelState()
        state.db, state.adding = self._db, False
        made._state = state
        return made

    def _from_cells(self, raw: tuple[Any, ...]) -> tuple[Model, bool]:
        cells = self._cells.turned(raw)
        can_be_changed = any(isinstance(cell, (dict, list, set)) for cell in cells)
        return self._model.from_db(self._db, self._names, cells), can_be_changed


class _Shared(RelatedPopulator):
    """A joined row, made once a run however many rows it is joined to."""

    def __init__(self, info: Any, select: Any, db: str, cells: _Cells) -> None:
        super().__init__(info, select, db)  # type: ignore[call-arg]
        if self.reorder_for_init is not None:
            msg = f"{self.model_cls} inherits from a table, which is not prepared."
            raise UnpreparedError(msg)
        own = cells.stretch(self.cols_start, self.cols_end)
        self._rows = _Rows(self.model_cls, db, self.init_list, own)
        self._related = _related(info, select, db, cells)

    def put(
        self, row: tuple[Any, ...], onto: Any, seen: dict[tuple[int, Any], Any]
    ) -> None:
        key = row[self.cols_start + self.pk_idx]
        if key is None:
            self.local_setter(onto, None)
            return
        made = seen.get((id(self), key))
        if made is None:
            made = self._rows.make(row)
            seen[id(self), key] = made
            for one in self._related:
                one.put(row, made, seen)
        self.local_setter(onto, made)
        self.remote_setter(made, onto)


def _related(info: Any, select: Any, db: str, cells: _Cells) -> list[_Shared]:
    infos = info.get("related_klass_infos", [])
    return [_Shared(one, select, db, cells) for one in infos]
