"""A caliper box: its readings are of whoever put it on the block, and of one sheet."""

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from deploy.caliper_box import Queue, Reading, asked_words
from inspection.actions.night.blocks import add_block
from inspection.actions.night.boxes import end_box, put_box, take_box_off
from inspection.actions.race_nights import take_off_block
from inspection.actions.sheets import start_sheet
from inspection.models import Block, CaliperBox, Entry, SheetReading
from inventory.actions.audit import Act
from inventory.actions.people.roles import switch_off
from inventory.compute.roles import Role
from inventory.models import Person
from tests.api.asking import Script, given, problem_of, script_of
from tests.builders import (
    act,
    make_edition,
    make_entry,
    make_gauge,
    make_night,
    make_person,
    now,
    rule,
)
from tests.deploy.servers import ROOT, SERVE, clean_environment, free_port, running

pytestmark = pytest.mark.django_db
COLUMN = "tyre_diameter_rear_left"


class Bench:
    """A scrutineer, a block with a car on it, and a box that was made on its page."""

    def __init__(self) -> None:
        self.scrutineer = make_person(Role.SCRUTINEER)
        self.block = add_block("Window", act=act())
        self.gauge = make_gauge(at=now())
        edition = make_edition([rule("1", "tyre_diameter_rear", lower=15)])
        self.night = make_night(edition)
        self.entry = make_entry(night=self.night)
        self.sheet = self.start(self.entry, self.block)
        client = Client()
        client.force_login(self.scrutineer)
        said = {"name": "box 1", "gauge": self.gauge.pk}
        page = client.post(reverse("inspection:boxes"), said).content.decode()
        text = page.partition('<code class="handed-address">')[2].partition("<")[0]
        assert text.startswith("fbx_")
        assert text not in client.get(reverse("inspection:boxes")).content.decode()
        self.script = Script(text)
        self.box = CaliperBox.objects.get()
        self.client = client

    def start(self, entry: Entry, block: Block) -> str:
        at = Act(by=self.scrutineer, at=now())
        return start_sheet(entry.pk, block=block, changed=(), act=at).number

    def put(self, by: Person | None = None) -> None:
        put_box(self.box.pk, self.block, act=Act(by=by or self.scrutineer, at=now()))

    def send(self, key: object | None = None, **said: Any) -> Any:
        body = {"sheet": self.sheet, "by": self.scrutineer.pk, "column": COLUMN}
        body |= {"text": "17.98"} | said
        return self.script.put(f"box/readings/{key or uuid.uuid4()}", body)


def test_a_box_reads_for_whoever_put_it_on_the_block() -> None:
    bench = Bench()
    assert problem_of(bench.script.get("box"), 409)["code"] == "on_no_block"
    address = reverse("inspection:put_box", args=[bench.box.pk])
    bench.client.post(address, {"block": bench.block.pk})
    asked = given(bench.script.get("box"))
    assert (asked["sheet"], asked["block"]) == (bench.sheet, "Window")
    assert asked["next"]["column"] == COLUMN
    assert next(one["column"] for one in asked["steps"]) == COLUMN
    key = uuid.uuid4()
    taken = given(bench.send(key), 201)
    assert taken["reading"]["by"]["id"] == bench.scrutineer.pk
    assert taken["reading"]["gauge"] == bench.gauge.pk
    given(bench.send(key), 200)
    assert SheetReading.objects.count() == 1
    assert given(bench.script.get("box"))["steps"][0]["column"] != COLUMN


def test_a_box_reads_onto_the_sheet_on_its_block_and_no_other() -> None:
    bench = Bench()
    bench.put()
    elsewhere = add_block("Stage", act=act())
    other = bench.start(make_entry(night=bench.night), elsewhere)
    said = problem_of(bench.send(sheet=other), 409)
    assert said["code"] == "another_sheet"
    key = uuid.uuid4()
    given(bench.send(key), 201)
    take_off_block(bench.entry.pk, reason="wrong car", act=act())
    # It was written, and says so to the box that did not hear it.
    given(bench.send(key), 200)
    said = problem_of(bench.send(), 409)
    assert "no car" in said["detail"]
    assert not SheetReading.objects.filter(sheet__number=other).exists()


def test_a_box_whose_clock_ran_down_is_heard_all_the_same() -> None:
    bench = Bench()
    bench.put()
    taken = given(bench.send(taken_at="0001-01-01T00:00:00+14:00"), 201)
    assert taken["reading"]["clock_said"] == "0001-01-01T00:00:00+14:00"


def test_what_was_read_for_one_scrutineer_is_not_anothers() -> None:
    bench = Bench()
    bench.put(make_person(Role.SCRUTINEER))
    assert problem_of(bench.send(), 409)["code"] == "another_scrutineer"


def off(bench: Bench) -> None:
    take_box_off(bench.box.pk, act=act())


def switched_off(bench: Bench) -> None:
    switch_off(bench.scrutineer, act=act())


def gone_home(bench: Bench) -> None:
    CaliperBox.objects.update(put_at=now() - timedelta(hours=13))


@pytest.mark.parametrize("deed", [off, switched_off, gone_home])
def test_a_box_reads_for_nobody_who_is_not_there(deed: Any) -> None:
    bench = Bench()
    bench.put()
    deed(bench)
    assert problem_of(bench.send(), 409)["code"] == "on_no_block"


def test_a_box_opens_nothing_else_and_ends() -> None:
    bench = Bench()
    bench.put()
    problem_of(bench.script.get(f"sheets/{bench.sheet}"), 401)
    problem_of(script_of(bench.scrutineer).get("box"), 401)
    end_box(bench.box.pk, act=act())
    problem_of(bench.script.get("box"), 401)


def test_a_box_is_asked_about_a_strange_number() -> None:
    bench = Bench()
    bench.put()
    said = problem_of(bench.send(text="179.8"), 409)
    assert said["code"] == "strange"
    given(bench.send(text="179.8", confirmed=True), 201)


def test_a_queue_outlives_a_power_cut_in_the_middle_of_a_line(tmp_path: Path) -> None:
    path = tmp_path / "queue"
    queue = Queue(path)
    for number in range(3):
        queue.add(Reading(f"id{number}", "s", 1, COLUMN, f"17.{number}", "now"))
    queue.done()
    with path.open("a") as file:
        file.write('{"reading_id": "id3", "she')
    assert [one.reading_id for one in Queue(path).waiting] == ["id1", "id2"]


def test_the_box_says_what_is_asked() -> None:
    bench = Bench()
    bench.put()
    now_asked = given(bench.script.get("box"))
    assert "Tyre diameter" in asked_words(now_asked, COLUMN)
    assert "no car" in asked_words(now_asked | {"sheet": ""}, "")


HUNDRED = [f"17.{number}" for number in range(100, 200)]
WITHIN_S = 60


def rows_in(database: Path) -> list[str]:
    line = sqlite3.connect(f"file:{database}?mode=ro", uri=True, timeout=10)
    with line:
        found = line.execute("SELECT text FROM inspection_sheetreading ORDER BY id")
        rows = [row[0] for row in found]
    line.close()
    return rows


def wait_for(database: Path, count: int) -> None:
    deadline = time.monotonic() + WITHIN_S
    while len(rows_in(database)) < count:
        assert time.monotonic() < deadline, rows_in(database)
        time.sleep(0.05)


@pytest.mark.long
@pytest.mark.sqlite
def test_the_server_is_killed_and_restarted_amid_a_hundred_readings(
    tmp_path: Path,
) -> None:
    data, port = tmp_path / "club", free_port()
    words = [*SERVE, f"--port={port}", f"--data={data}", "--no-demo"]
    settings = {
        "DJANGO_SETTINGS_MODULE": "deploy.settings.local",
        "FEELERBOOK_DATA": str(data),
    }
    client: subprocess.Popen[str] | None = None
    try:
        with running(*words) as (server, address, _):
            done = subprocess.run(
                [sys.executable, "-m", "tests.api.box_club"],
                cwd=ROOT,
                env=clean_environment() | settings,
                check=True,
                capture_output=True,
                text=True,
            )
            made = json.loads(done.stdout)
            (tmp_path / "token").write_text(made["token"])
            (database,) = data.glob("*.sqlite3")
            client = subprocess.Popen(
                [
                    sys.executable,
                    str(ROOT / "deploy" / "caliper_box.py"),
                    address,
                    f"--token-file={tmp_path / 'token'}",
                    f"--queue={tmp_path / 'queue'}",
                    f"--column={COLUMN}",
                ],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
            assert client.stdin is not None
            assert client.stdout is not None
            # One by one, as they are read: the first half while it answers …
            client.stdin.writelines(f"{text} mm\r\n" for text in HUNDRED[:50])
            client.stdin.flush()
            wait_for(database, 20)
            os.kill(server.pid, signal.SIGKILL)
            server.wait()
        # … the rest while it is away.
        client.stdin.writelines(f"{text} mm\r\n" for text in HUNDRED[50:])
        client.stdin.close()
        with running(*words):
            wait_for(database, 100)
            said = client.stdout.read()
            client.stdout.close()
            assert client.wait(timeout=WITHIN_S) == 0, said
        rows = rows_in(database)
        assert [row.split()[0] for row in rows] == HUNDRED
        assert "Waiting" in said
    finally:
        if client is not None:
            client.kill()
            client.wait()
            for pipe in (client.stdin, client.stdout):
                assert pipe is not None
                pipe.close()
