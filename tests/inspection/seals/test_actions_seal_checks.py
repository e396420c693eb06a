"""The check of the seals: all holds, and what does not is named (R9)."""

import hashlib
import json
from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, models

from inspection.actions.race_nights import close_night
from inspection.actions.seal_checks import (
    check_seals,
    link_audit_rows,
    link_daily,
    settle_night,
)
from inspection.compute.night import Occasion, chained_hash
from inspection.files.canonical import canonical_text
from inspection.loaders.seals.heads import head_of_audit, head_of_night
from inspection.models import (
    AuditLink,
    Edition,
    Finding,
    RaceNight,
    Rule,
    Seal,
    SealCheck,
    SealContent,
    SealInputs,
    SheetReading,
)
from inventory.models import AuditRow, Person
from tests import builders
from tests.inspection.seals_night import make_sealed_night
from tests.lifted import guards_lifted

pytestmark = pytest.mark.django_db

HELD = (
    AuditLink,
    AuditRow,
    Edition,
    Finding,
    Rule,
    Seal,
    SealContent,
    SealInputs,
    SheetReading,
)


@pytest.fixture
def scrutineer() -> Person:
    return builders.make_scrutineer()


@pytest.fixture
def night(scrutineer: Person) -> RaceNight:
    return make_sealed_night(scrutineer)


def found() -> list[str]:
    """Check all, and give what differs."""
    said = check_seals(Occasion.ASKED, at=builders.NOW).differences
    assert isinstance(said, list)
    return said


def by_force(sql: str, *values: Any) -> None:
    """Do what only somebody with the database's own key can do."""
    with guards_lifted(*HELD), connection.cursor() as cursor:
        cursor.execute(sql, values)


def numbers_of(night: RaceNight) -> list[str]:
    seals = Seal.objects.filter(night=night).order_by("sequence")
    return list(seals.values_list("sheet__number", flat=True))


def test_untouched_night_holds_and_the_run_is_noted(night: RaceNight) -> None:
    check = check_seals(Occasion.DAILY, at=builders.NOW)
    assert check.differences == []
    assert check.holds
    assert (check.seal_count, check.occasion, check.night) == (3, "daily", None)
    row = AuditRow.objects.get(event="seals.checked")
    assert (row.actor, row.detail) == (None, {"seals": 3, "differences": 0})


def test_closing_links_the_audit_rows_and_checks_the_night(
    night: RaceNight, scrutineer: Person
) -> None:
    act = builders.act(scrutineer, minutes=200)
    close_night(night, act=act)
    check = settle_night(night, act=act)
    assert check.holds
    assert (check.night, check.occasion) == (night, Occasion.CLOSING)
    link = AuditLink.objects.get()
    content = json.loads(link.content)
    head = head_of_night(night)
    assert head is not None
    assert content["night"] == {"head": head.sha256, "count": 3}
    rows = AuditRow.objects.filter(pk__lte=content["rows"]["up_to"]).order_by("pk")
    assert content["rows"]["count"] == rows.count() > 20
    lines = "".join(f"{row.pk} {bytes(row.sha256 or b'').hex()}\n" for row in rows)
    assert content["rows"]["sha256"] == hashlib.sha256(lines.encode()).hexdigest()
    assert found() == []


def test_audit_rows_are_linked_once_a_day(night: RaceNight) -> None:
    first = link_daily(at=builders.act().at)
    assert first is not None
    assert link_daily(at=builders.act(minutes=60).at) is None
    second = link_daily(at=builders.act(minutes=24 * 60).at)
    assert second is not None
    assert (second.sequence, second.previous_sha256) == (2, first.sha256)
    assert found() == []


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        ("decision", "'sent back'", "decision is “passed”"),
        ("sealed_by_id", "(SELECT min(id) FROM inventory_person)", "sealed by is"),
        ("sealed_at", "'2026-05-08 18:00:00+00:00'", "sealed at is"),
        ("is_own_car", "TRUE", "own car is False"),
    ],
)
def test_column_of_a_seal_says_what_its_content_says(
    night: RaceNight, column: str, value: str, says: str
) -> None:
    number = numbers_of(night)[2]
    by_force(f"UPDATE inspection_seal SET {column} = {value} WHERE sequence = 3")
    (said,) = found()
    assert said.startswith(f"{number}: {says}")


def test_limit_of_a_published_edition_is_held(night: RaceNight) -> None:
    by_force("UPDATE inspection_rule SET lower = 70000000 WHERE number = '1'")
    said = found()
    assert any("edition" in one and "SHA-256" in one for one in said)
    for number in numbers_of(night):
        assert any(
            one.startswith(f"{number}: rule 1 lower is 80000000") for one in said
        )


@pytest.mark.parametrize(
    ("sql", "says"),
    [
        ("DELETE FROM inspection_finding {last}", "findings"),
        ("DELETE FROM inspection_sealinputs WHERE seal_id = {seal}", "inputs"),
        ("DELETE FROM inspection_sealcontent WHERE seal_id = {seal}", "its content"),
        ("DELETE FROM inspection_sheetreading {last}", "readings"),
    ],
)  # fmt: skip
def test_deleted_row_is_named_by_its_sheet(
    night: RaceNight, sql: str, says: str
) -> None:
    seal = Seal.objects.get(sequence=1)
    table = sql.split(" ")[2]
    last = f"WHERE id = (SELECT max(id) FROM {table} WHERE sheet_id = {seal.sheet_id})"
    by_force(sql.format(last=last, seal=seal.pk))
    said = found()
    assert said
    assert all(one.startswith(f"{numbers_of(night)[0]}: ") for one in said)
    assert any(says in one for one in said)


def delete(seal: Seal) -> None:
    for table in ("inspection_sealinputs", "inspection_sealcontent"):
        by_force(f"DELETE FROM {table} WHERE seal_id = %s", seal.pk)
    by_force("DELETE FROM inspection_seal WHERE id = %s", seal.pk)


@pytest.mark.parametrize("sequence", [1, 2, 3])
def test_deleted_seal_is_named(night: RaceNight, sequence: int) -> None:
    """Also the last one, which leaves a chain that holds."""
    number = numbers_of(night)[sequence - 1]
    delete(Seal.objects.get(sequence=sequence))
    assert f"{number}: it was sealed, and that seal is gone" in found()
    assert f"{number}: it has findings and no seal" in found()


def test_last_seal_deleted_with_every_trace_shows_by_the_link(
    night: RaceNight, scrutineer: Person
) -> None:
    settle_night(night, act=builders.act(scrutineer))
    last = Seal.objects.get(sequence=3)
    by_force("DELETE FROM inspection_finding WHERE sheet_id = %s", last.sheet_id)
    delete(last)
    by_force("DELETE FROM inventory_auditrow WHERE event = 'sheet.sealed' "
             "AND subject = %s", last.sheet.number)  # fmt: skip
    said = found()
    assert any("its seals are not those that it was closed with" in one for one in said)
    assert any("are not what was linked" in one for one in said)


def test_seals_in_another_order_are_named(night: RaceNight) -> None:
    for old, new in ((1, 91), (2, 1), (91, 2)):
        by_force(
            "UPDATE inspection_seal SET sequence = %s WHERE sequence = %s", new, old
        )
    said = found()
    first, second, third = numbers_of(night)
    for number in (first, second, third):
        assert any(one.startswith(f"{number}: ") for one in said)


def swap(model: type[models.Model], columns: str, one: int, other: int) -> None:
    """Exchange columns of two rows; what is unique goes by way of a third value."""
    table = model._meta.db_table
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT id, {columns} FROM {table} WHERE id IN (%s, %s)", [one, other]
        )
        rows = {row[0]: row[1:] for row in cursor.fetchall()}
    sets = ", ".join(f"{name} = %s" for name in columns.split(", "))
    away = [f"{value}"[:60] + "x" for value in rows[one]]
    for key, values in ((one, away), (other, rows[one]), (one, rows[other])):
        by_force(f"UPDATE {table} SET {sets} WHERE id = %s", *values, key)


def test_seals_of_two_nights_exchanged_are_named(
    night: RaceNight, scrutineer: Person
) -> None:
    other = make_sealed_night(scrutineer)
    here, there = (Seal.objects.get(night=one, sequence=3) for one in (night, other))
    texts = here.content, there.content
    swap(Seal, "previous_sha256, sha256", here.pk, there.pk)
    write_content(here, texts[1])
    write_content(there, texts[0])
    said = found()
    for number in (here.sheet.number, there.sheet.number):
        assert any(one.startswith(f"{number}: number is “") for one in said)
        assert any(
            one.startswith(f"{number}: it is not linked to the seal") for one in said
        )


def test_audit_row_that_was_changed_is_named(night: RaceNight) -> None:
    row = AuditRow.objects.get(event="night.opened")
    by_force("UPDATE inventory_auditrow SET subject = 'x' WHERE id = %s", row.pk)
    assert found() == [f"audit row {row.pk}: night.opened was changed"]


def test_deleted_audit_row_shows_once_it_was_linked(night: RaceNight) -> None:
    row = AuditRow.objects.get(event="night.opened")
    link = link_audit_rows(at=builders.NOW)
    by_force("DELETE FROM inventory_auditrow WHERE id = %s", row.pk)
    (said,) = found()
    assert said.startswith(f"audit link {link.sequence}: audit rows 1 to")


def test_audit_link_that_was_changed_cut_or_unreadable_is_named(
    night: RaceNight,
) -> None:
    for minutes in (0, 1, 2):
        link_audit_rows(at=builders.act(minutes=minutes).at)
    first = AuditLink.objects.get(sequence=1)
    by_force("UPDATE inspection_auditlink SET content = 'x' WHERE sequence = 1")
    assert any("audit link 1: it cannot be read" in one for one in found())
    by_force("UPDATE inspection_auditlink SET content = %s WHERE sequence = 1",
             first.content)  # fmt: skip
    assert found() == []
    by_force("DELETE FROM inspection_auditlink WHERE sequence = 2")
    assert "audit link 3: it does not follow the link before it" in found()


def test_row_from_before_rows_were_hashed_is_linked_by_what_it_says(
    night: RaceNight,
) -> None:
    by_force("UPDATE inventory_auditrow SET sha256 = NULL")
    link_audit_rows(at=builders.NOW)
    assert found() == []
    by_force("UPDATE inventory_auditrow SET subject = 'x' WHERE event = 'night.opened'")
    assert any("are not what was linked" in one for one in found())


def write_content(seal: Seal, text: str) -> None:
    by_force(
        "UPDATE inspection_sealcontent SET packed = %s WHERE seal_id = %s",
        *(SealContent.of(seal, text).packed, seal.pk),
    )


def rewrite(seal: Seal, change: Callable[[dict[str, Any]], None]) -> None:
    """Rewrite a seal with its hash, and with all that stands behind it."""
    content = json.loads(seal.content)
    change(content)
    text = canonical_text(content)
    previous = seal.previous_sha256
    for one in Seal.objects.filter(night=seal.night, sequence__gte=seal.sequence):
        said = text if one.pk == seal.pk else one.content
        sha256 = chained_hash(previous, said)
        write_content(one, said)
        by_force(
            "UPDATE inspection_seal SET previous_sha256 = %s, sha256 = %s "
            "WHERE id = %s",
            *(previous, sha256, one.pk),
        )
        previous = sha256


def test_passed_sheet_with_a_rule_not_admitted_is_named(night: RaceNight) -> None:
    seal = Seal.objects.get(sequence=2)

    def pass_it(content: dict[str, Any]) -> None:
        content["decision"] = "passed"

    rewrite(seal, pass_it)
    by_force("UPDATE inspection_seal SET decision = 'passed' WHERE sequence = 2")
    says = "it passed with rule 1, which is mandatory, not admitted"
    assert f"{seal.sheet.number}: {says}" in found()


def test_finding_that_its_values_do_not_give_is_named(night: RaceNight) -> None:
    """Rewritten in content and rows alike, it is the judging that says so."""
    seal = Seal.objects.get(sequence=2)

    def admit(content: dict[str, Any]) -> None:
        content["findings"][0] |= {"outcome": "pass", "admitted": True}

    rewrite(seal, admit)
    by_force("UPDATE inspection_finding SET outcome = 'pass', is_admitted = TRUE "
             "WHERE sheet_id = %s", seal.sheet_id)  # fmt: skip
    says = "judged again, rule 1 outcome is “pass” in the seal, “fail” in the tables"
    assert f"{seal.sheet.number}: {says}" in found()


def test_content_of_an_older_number_is_not_judged_again(night: RaceNight) -> None:
    seal = Seal.objects.get(sequence=2)

    def of_the_first(content: dict[str, Any]) -> None:
        content["format"] = "feelerbook sheet 1"
        del content["judging"]
        content["findings"][0]["u"] = round(content["findings"][0]["u"])
        for row in content["findings"]:
            del row["probability"], row["guard_band"], row["derived"]

    rewrite(seal, of_the_first)
    assert all("audit row" in one or "that seal is gone" in one for one in found())


@pytest.mark.parametrize("content", ["x", "{}", "[]", '{"findings":[]}'])
def test_content_that_is_no_sheet_is_named(night: RaceNight, content: str) -> None:
    number = numbers_of(night)[1]
    write_content(Seal.objects.get(sequence=2), content)
    said = found()
    assert any(one.startswith(f"{number}: its content cannot be read") for one in said)


def run(*words: str) -> str:
    out = StringIO()
    call_command("check_seals", *words, stdout=out)
    return out.getvalue()


def test_command_says_that_all_holds_and_links_the_audit_rows(
    night: RaceNight,
) -> None:
    assert run("--after", "start") == "3 seals hold.\n"
    assert SealCheck.objects.get().occasion == Occasion.START
    assert AuditLink.objects.count() == 1


def test_command_names_what_differs_and_ends_with_1(night: RaceNight) -> None:
    by_force("UPDATE inspection_finding SET outcome = 'fail'")
    with pytest.raises(CommandError, match="3 seals were checked") as refusal:
        run()
    assert refusal.value.returncode == 1


def test_head_proves_what_was_sealed_then(night: RaceNight) -> None:
    head = head_of_night(night)
    assert head is not None
    said = run("--head", head.sha256.upper(), "3")
    assert f"{night} (2026-05-08): 3 seals up to {head.sha256[:16]}… are here." in said
    first = Seal.objects.get(sequence=1).sha256
    one = f"{night} (2026-05-08): 1 seal up to {first[:16]}… is here, 2 since."
    assert one in run("--head", first, "1")
    audit = head_of_audit()
    assert audit is not None
    assert "the audit's chain: 1 link up to" in run("--head", audit.sha256, "1")
    with pytest.raises(CommandError):
        run("--head", head.sha256, "4")


def test_head_shows_a_night_that_was_computed_anew(night: RaceNight) -> None:
    """Every column, row and hash rewritten to fit: only the printed head tells."""
    head = head_of_night(night)
    assert head is not None
    seal = Seal.objects.get(sequence=3)

    def later(content: dict[str, Any]) -> None:
        content["item"]["car_name"] = "Another"

    rewrite(seal, later)
    row = AuditRow.objects.filter(event="sheet.sealed").latest("pk")
    now = Seal.objects.get(sequence=3).sha256
    by_force("DELETE FROM inventory_auditrow WHERE id = %s", row.pk)
    AuditRow.objects.create(
        at=row.at,
        event=row.event,
        subject=row.subject,
        detail={"decision": seal.decision, "sha256": now},
    )
    assert found() == []
    with pytest.raises(CommandError):
        run("--head", head.sha256, "3")


@pytest.mark.parametrize("words", [["x", "3"], ["a" * 64, "three"]])
def test_head_that_is_none_is_refused(db: None, words: list[str]) -> None:
    with pytest.raises(CommandError, match="--head"):
        run("--head", *words)
