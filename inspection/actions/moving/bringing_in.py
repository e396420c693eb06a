"""Bringing a whole club in, from an archive into a database that has nobody yet."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import IO, Any

from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.core.management.color import no_style
from django.db import DatabaseError, connection, models, transaction
from django.utils.translation import gettext as _

from inspection.actions.moving.taking_out import digest_of
from inspection.actions.night_sums import keep_night_sums
from inspection.files.archive.package import FORMAT
from inspection.files.archive.refused import ArchiveRefusedError, OtherVersionError
from inspection.files.archive.tables import SEALED, ArchiveTable, tables
from inspection.files.archive.unpacking import Archive
from inspection.loaders.archive import newest_migrations
from inspection.loaders.history.night_sums import nights_to_keep
from inspection.loaders.rulebooks.editions import forget_editions
from inspection.models import Seal
from inspection.models.seals import pack_content
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.loaders.clocks import forget_zone
from inventory.models import Beginning, Club, Person


@dataclass(frozen=True, kw_only=True)
class FirstIn:
    """Who comes in first: an admin of the club that is brought in, and how."""

    sign_in_name: str
    password: str


@dataclass(frozen=True, kw_only=True)
class BroughtIn:
    """What was brought in."""

    admin: Person
    club: str
    row_count: int
    seal_count: int


def open_archive(file: IO[bytes]) -> Archive:
    """
    Open a file as an archive, and look whether it can be brought in here.

    Writes nothing.  Raises RefusedError for what is no archive, is damaged or
    hostile, or is of another version.
    """
    try:
        archive = Archive(file)
        _refuse_other_version(archive)
    except ArchiveRefusedError as error:
        raise RefusedError.because(error, field="file") from error
    return archive


@transaction.atomic
def bring_in_club(archive: Archive, first: FirstIn, *, at: dt.datetime) -> BroughtIn:
    """
    Write a whole club back as it was taken out, all of it or nothing.

    Writes every table of the archive with its own numbers, holds each against its
    hash once it is in the database, sets the password of the one who comes in first,
    and takes the Beginning away; audits ``club.brought_in``.  Nobody else has a
    password until one is given.  Raises RefusedError where the database has people,
    the archive is damaged, or the one named is no admin in it.
    """
    # Two who send at once wait here for each other.
    list(Beginning.objects.select_for_update())
    refuse_unless_empty()
    try:
        _let_it_take_its_time()
        with _references_by_index():
            row_count = sum(_bring_in(archive, table) for table in tables())
        _settle_numbers()
        _hold_against_hashes(archive)
    except ArchiveRefusedError as error:
        raise RefusedError.because(error, field="file") from error
    except DatabaseError as error:
        raise RefusedError(
            code="rows_refused",
            sentence=_(
                "The database refuses rows of the archive: they are not as the program "
                "writes them (%(one)s)."
            )
            % {"one": str(error).splitlines()[0][:120]},
            field="file",
        ) from error
    while nights_to_keep(1):
        keep_night_sums()
    admin = _let_in(first)
    Beginning.objects.all().delete()
    forget_zone()
    forget_editions()
    club = str(Club.objects.first() or "")
    record_event(
        "club.brought_in", subject=club, act=Act(by=admin, at=at), rows=row_count
    )
    return BroughtIn(
        admin=admin, club=club, row_count=row_count, seal_count=Seal.objects.count()
    )


def _let_it_take_its_time() -> None:
    """Lift, for this transaction, the times that a page's statements may take."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL statement_timeout = 0")
        cursor.execute("SET LOCAL idle_in_transaction_session_timeout = 0")


@contextmanager
def _references_by_index() -> Iterator[None]:
    """
    Give SQLite an index on each reference that has none, while rows come in.

    While any reference waits for its row, SQLite looks with each new row for those
    that wait for it, and without an index reads the whole table that refers to it:
    three hundred thousand readings, each time.
    """
    if connection.vendor != "sqlite":
        yield
        return
    quoted = connection.ops.quote_name
    made: dict[str, str] = {}
    for table in tables():
        for field in table.model._meta.concrete_fields:
            is_bare = field.is_relation and not getattr(field, "db_index", False)
            if is_bare and not field.unique and field.column:
                column = quoted(field.column)
                name = quoted(f"coming_in_{len(made)}")
                made[name] = f"{quoted(table.name)} ({column})"
    with connection.cursor() as cursor:
        for name, where in made.items():
            cursor.execute(f"CREATE INDEX {name} ON {where}")
        yield
        for name in made:
            cursor.execute(f"DROP INDEX {name}")


def refuse_unless_empty() -> None:
    """Raise RefusedError where there is anything that an archive would lie over."""
    if Person.objects.exists() or Club.objects.exists():
        raise RefusedError(
            code="not_empty",
            sentence=_(
                "This club has begun already: an archive is brought into an empty one. "
                "Start Feelerbook with a data folder of its own, or with a new "
                "database, and bring it in there."
            ),
            field="file",
        )


def _refuse_other_version(archive: Archive) -> None:
    origin = archive.descriptor["feelerbook"]
    origin = origin if isinstance(origin, dict) else {}
    mine = newest_migrations()
    if origin.get("format") == FORMAT and origin.get("migrations") == mine:
        _refuse_other_tables(archive)
        return
    version = str(origin.get("version", "another version"))[:20]
    msg = _(
        "The archive was written by Feelerbook %(version)s, whose tables are not those "
        "of this one, %(here)s. Bring it in with that version, let the newer of the "
        "two upgrade it, and take the club out again."
    ) % {"version": version, "here": settings.VERSION}
    raise OtherVersionError(msg)


def _refuse_other_tables(archive: Archive) -> None:
    for table in tables():
        columns = [column.name for column in table.columns]
        if table.name not in archive.table_names() or (
            archive.fields(table.name) != columns
        ):
            msg = _("The archive has no table %(table)s as it is kept here.") % {
                "table": table.name
            }
            raise OtherVersionError(msg)


def _bring_in(archive: Archive, table: ArchiveTable) -> int:
    """Write a table's rows, so many at a time; gives how many."""
    names = [column.name for column in table.columns]
    rows = archive.rows(table)
    count = 0
    while chunk := list(islice(rows, table.rows_at_once)):
        made = [table.model(**dict(zip(names, row, strict=True))) for row in chunk]
        _fill_in(archive, table, made)
        table.model._base_manager.bulk_create(made)
        count += len(made)
    return count


def _fill_in(archive: Archive, table: ArchiveTable, made: list[Any]) -> None:
    """Give rows what does not stand in their table."""
    if table.model is Person:
        for person in made:
            person.password = make_password(None)
    elif table.name == SEALED:
        seals = Seal.objects.select_related("sheet").in_bulk(
            [content.seal_id for content in made]
        )
        for content in made:
            seal = seals.get(content.seal_id)
            number = seal.sheet.number if seal else ""
            content.packed = pack_content(archive.sheet(number))


def _settle_numbers() -> None:
    """Look whether every row named is there, and count new rows on from the last."""
    connection.check_constraints()
    kept: list[type[models.Model]] = [table.model for table in tables()]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), kept):
            cursor.execute(statement)


def _hold_against_hashes(archive: Archive) -> None:
    """Read every table back: what is in the database gives the archive's hashes."""
    hash_by_table = {
        one["name"]: one["hash"] for one in archive.descriptor["resources"]
    }
    for table in tables():
        if hash_by_table[table.name] != f"sha256:{digest_of(table)}":
            raise RefusedError(
                code="not_the_same",
                sentence=_(
                    "%(table)s is not the same in this database as in the archive; "
                    "nothing was brought in."
                )
                % {"table": table.name},
                field="file",
            )


def _let_in(first: FirstIn) -> Person:
    """Give the one who comes in first a password."""
    named = Person.objects.active().filter(sign_in_name__iexact=first.sign_in_name)
    admin = named.filter(grants__role=Role.ADMIN).first()
    if admin is None:
        raise RefusedError(
            code="no_admin",
            sentence=_(
                "“%(sign_in_name)s” is no admin of the club in the archive: the "
                "sign-in name of one is expected."
            )
            % {"sign_in_name": first.sign_in_name},
            field="sign_in_name",
        )
    admin.set_password(first.password)
    admin.save(update_fields=["password"])
    return admin
