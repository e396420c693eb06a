"""The feed of changes: nothing is lost, nothing comes twice, whoever commits when."""

from collections.abc import Iterator
from contextlib import closing
from typing import Any

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.actions.audit import record_event
from inventory.actions.changes import number_changes
from inventory.compute.roles import Role
from inventory.models import ChangeNumber, Person
from tests.api.asking import Script, script_of
from tests.api.asking import given as told
from tests.builders import act, make_part, make_person, now

INSERT = (
    "INSERT INTO inventory_auditrow (at, event, subject, detail) "
    "VALUES (now(), 'part.received', %s, '{}')"
)


def read(script: Script, since: int = 0) -> tuple[list[str], int]:
    """Read the feed from a cursor on; give what came and the cursor after it."""
    found: list[str] = []
    more = True
    while more:
        said = told(script.get(f"changes?since={since}"))
        found += [one["subject"] for one in said["changes"]]
        since, more = said["cursor"], said["more"]
    return found, since


@pytest.mark.django_db
def test_the_feed_goes_on_from_its_cursor() -> None:
    script = script_of(make_person(Role.SCRUTINEER))
    parts = [make_part().tag for _ in range(3)]
    found, cursor = read(script)
    assert found == parts
    assert read(script, cursor) == ([], cursor)
    later = make_part().tag
    assert read(script, cursor)[0] == [later]
    # What is not of things is passed over, and the cursor with it.
    record_event("person.joined", subject="person 1", act=act())
    again, further = read(script, cursor)
    assert again == [later]
    assert further == ChangeNumber.objects.latest("number").number


@pytest.mark.django_db
def test_a_member_is_told_of_no_car() -> None:
    for event in ("part.received", "sheet.sealed", "car.sold", "person.erased"):
        record_event(event, subject=event, act=act())
    assert read(script_of(make_person()))[0] == ["part.received"]
    chief = script_of(make_person(Role.CHIEF_SCRUTINEER))
    assert read(chief)[0] == ["part.received", "sheet.sealed", "car.sold"]


@pytest.mark.django_db
def test_a_long_feed_comes_in_pieces() -> None:
    script = script_of(make_person())
    for number in range(501):
        record_event("part.received", subject=str(number), act=act())
    said = told(script.get("changes"))
    assert (len(said["changes"]), said["more"]) == (500, True)
    assert read(script)[0] == [str(number) for number in range(501)]


@pytest.mark.django_db
def test_what_is_numbered_meanwhile_is_for_the_next_look(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    script = script_of(make_person())
    for number in range(501):
        record_event("part.received", subject=str(number), act=act())
    number_changes(at=now())
    # As if all of it were numbered by another reader since the last number was read.
    with monkeypatch.context() as before:
        before.setattr("inventory.api.changes.operations.last_number", lambda: 0)
        said = told(script.get("changes"))
    assert said == {"changes": [], "cursor": 0, "more": False}
    assert len(read(script)[0]) == 501


class Writer:
    """Somebody who writes in a transaction of their own, on a line of their own."""

    def __init__(self, name: str) -> None:
        self.name, self.count = name, 0
        self.line = connection.copy()
        self.open: list[str] = []

    def insert(self) -> None:
        if not self.open:
            self.line.set_autocommit(False)
        self.count += 1
        subject = f"{self.name}{self.count}"
        with self.line.cursor() as cursor:
            cursor.execute(INSERT, [subject])
        self.open.append(subject)

    def end(self, *, commits: bool) -> list[str]:
        written, self.open = self.open, []
        if written:
            (self.line.commit if commits else self.line.rollback)()
            self.line.set_autocommit(True)
        return written if commits else []

    def close(self) -> None:
        self.end(commits=False)
        self.line.close()


DEEDS = st.lists(
    st.sampled_from(
        ["a writes", "b writes", "a commits", "b commits", "a rolls back", "read"]
    ),
    min_size=4,
    max_size=24,
)


@pytest.fixture
def two_writers(transactional_db: None) -> Iterator[tuple[Writer, Writer]]:
    with closing(Writer("a")) as first, closing(Writer("b")) as second:
        yield first, second


@pytest.mark.postgresql
@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(deeds=DEEDS)
def test_two_writers_lose_nothing_and_nothing_comes_twice(
    two_writers: tuple[Writer, Writer], deeds: list[str]
) -> None:
    by_word: dict[str, Writer] = dict(zip("ab", two_writers, strict=True))
    reader = feed_of(Person.objects.first() or make_person(Role.SCRUTINEER))
    committed: list[str] = []
    seen: list[str] = []
    for deed in [*deeds, "a commits", "b commits", "read"]:
        who = by_word.get(deed[0])
        if deed == "read":
            seen += reader()
        elif who is not None and deed.endswith("writes"):
            who.insert()
        elif who is not None:
            committed += who.end(commits=deed.endswith("commits"))
    assert sorted(seen) == sorted(committed)
    for name in "ab":
        own = [one for one in seen if one.startswith(name)]
        assert own == sorted(own, key=lambda one: int(one[1:]))


def feed_of(person: Person) -> Any:
    """Give a reader that goes on from its own cursor."""
    from inventory.loaders.changes import changes_after, last_number  # noqa: PLC0415

    number_changes(at=now())
    cursor = last_number()

    def read_on() -> list[str]:
        nonlocal cursor
        number_changes(at=now())
        last = last_number()
        found = [one for one in changes_after(cursor, person) if one.number <= last]
        cursor = last
        return [one.row.subject for one in found]

    return read_on
