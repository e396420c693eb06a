"""
Whatever is typed or uploaded, the service answers: refused, or taken, never broken.

Words that have broken other programs go into every field of every form and into every
query; files are cut, flipped and swollen.  A part of it in each run, all of it with
``--long``.
"""

import contextlib
import io
import random
import re
import resource
import sys
import time
from collections.abc import Iterator
from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.forms.boundfield import BoundField
from django.test import Client
from django.urls import reverse

from inspection.actions.moving.bringing_in import open_archive
from inspection.actions.moving.taking_out import take_out_club
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from tests import builders
from tests.architecture.test_permissions import MATRIX, Club, make_club
from tests.inventory.hostile import workbook

pytestmark = pytest.mark.django_db

#: By what each is known to break: none is from a list of somebody else's.
STRANGE = (
    "",
    " \t\r\n ",
    "0",
    "-0",
    "-1",
    "NaN",
    "Infinity",
    "1e400",
    "1e-400",
    "9" * 400,
    "0x1F",
    "१२.५",  # Devanagari digits
    "１２．５",  # full width
    "12,5.3",
    "½",
    "null",
    "None",
    "true",
    "[]",
    "{}",
    "{{ 7 * 7 }}{% now %}",
    "${7*7}%{7*7}",
    "%s%n%d%x",
    "%(name)s",
    "' OR ''='",
    "'; DROP TABLE inventory_part; --",
    '"><script>alert(1)</script>',
    "javascript:alert(1)",
    "../../../../etc/passwd",
    "C:\\con\\nul",
    "=cmd|' /C calc'!A0",
    "@SUM(1+1)",
    "\x00",
    "\x01\x08\x1b[31m\x7f",
    "\ufeffmark",
    "\u202eesrever",
    "\u200b\u200d\u2060",
    "Z̷̗͖̈́a̶̙̐l̸͇̾g̵̬̑o̴̰͠" * 20,
    "👩‍👩‍👧‍👦🏴",
    "\ud83d",  # half of a pair
    "\U0010ffff",
    "İıſKÅ",  # letters that change length or kind in another case
    "ß" * 300,
    "x" * 100_000,
    "0001-01-01",
    "9999-12-31T23:59:59+14:00",
    "2026-02-30",
    "-999999999-01-01",
    "9223372036854775808",
    "-9223372036854775809",
    "00000000-0000-0000-0000-000000000000",
    "a@b.c, d@e.f\r\nBcc: g@h.i",
    "http://[::1]:99999999/%zz%00",
)
PARTS = 6
MOST_BYTES = 512 * 1024 * 1024
MUTANTS, MUTANTS_LONG = 60, 10_000
parts = [0, *(pytest.param(n, marks=pytest.mark.long) for n in range(1, PARTS))]


SENT_TO = {"inventory:new_batch": "inventory:upload_batch"}


@contextlib.contextmanager
def undone() -> Iterator[None]:
    """Take back what was written."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def signed_in(club: Club) -> Client:
    client = Client(raise_request_exception=False)
    person = builders.make_person(*Role)
    client.force_login(person)
    return client


def forms_of(answer: Any) -> list[forms.BaseForm]:
    """Give the forms that a page was made with."""
    found: dict[int, forms.BaseForm] = {}
    # Of one template the context itself, of several a list of them.
    several = isinstance(answer.context, list)
    for context in answer.context if several else [answer.context]:
        for values in context.dicts:
            for value in values.values():
                if isinstance(value, forms.BaseForm):
                    found[id(value)] = value
    return list(found.values())


def as_shown(form: forms.BaseForm) -> dict[str, Any]:
    said = {field.html_name: field.value() for field in form}
    return {
        name: getattr(value, "pk", value)
        for name, value in said.items()
        if value is not None and value is not False
    }


def sent_safely(text: str) -> str:
    # A browser cannot send half of a pair: it sends the sign for “unknown”.
    return text.encode("utf-8", "replace").decode()


def asked_with(part: int) -> Iterator[tuple[str, Any]]:
    for number, (name, row) in enumerate(MATRIX.items()):
        if number % PARTS == part and name not in {"sign_out", "back_up"}:
            yield name, row


@pytest.mark.parametrize("part", parts)
def test_no_field_and_no_query_breaks_a_page(part: int) -> None:
    club = make_club()
    client = signed_in(club)
    words = [sent_safely(word) for word in STRANGE]
    broken, sent = [], 0
    chance = random.Random(part)
    for name, row in asked_with(part):
        address = reverse(name, args=row.args(club))
        shown = client.get(address) if row.get is not None else None
        made = [] if shown is None or shown.context is None else forms_of(shown)
        names = {field.html_name for form in made for field in form}
        for word in chance.sample(words, 4 if part == 0 else len(words)):
            with undone():
                query = dict.fromkeys(names | {"q", "page", "column", "next"}, word)
                status = client.get(address, query).status_code
            sent += 1
            if status >= 500:
                broken.append((name, "get", word[:40], status))
            for said in bodies(made, word):
                with undone():
                    status = client.post(address, said).status_code
                sent += 1
                if status >= 500:
                    broken.append((name, "post", word[:40], status))
    assert broken == []
    assert sent > 100


def bodies(made: list[forms.BaseForm], word: str) -> Iterator[dict[str, Any]]:
    """Give a form with the word everywhere, and with the word in one field each."""
    yield {"text": word, "reason": word, "decision": word, "chosen": word}
    for form in made:
        usual = as_shown(form)
        typed: list[BoundField] = [field for field in form if not field.is_hidden]
        yield usual | {field.html_name: word for field in typed}
        for field in typed[:3]:
            yield usual | {field.html_name: word}


def seeds() -> dict[str, bytes]:
    rows: list[list[object]] = [["No", "Diameter", "Compound"]]
    rows += [[n, 18.5 + n / 100, "soft"] for n in range(20)]
    lines = "\n".join(";".join(map(str, row)) for row in rows)
    return {
        "tyres.csv": lines.encode(),
        "tyres.xlsx": workbook(rows),
        "picture.png": builders.picture(),
        "picture.jpg": builders.picture(form="JPEG"),
        "club.zip": b"".join(take_out_club(at=builders.NOW)),
        "rules.json": b'{"format": "x", "rules": [{"number": "1"}]}',
    }


def mutant(seed: bytes, chance: random.Random) -> bytes:
    """Flip, cut, repeat or swell a file."""
    file = bytearray(seed)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(file) or 1)
        match chance.randrange(5):
            case 0:
                file[at : at + 1] = bytes([chance.randrange(256)])
            case 1:
                del file[at : at + chance.randint(1, 400)]
            case 2:
                file[at:at] = file[: chance.randint(1, 2000)]
            case 3:
                file[at : at + 4] = b"\xff\xff\xff\x7f"
            case _:
                file[at:at] = bytes(chance.randbytes(chance.randint(1, 64)))
        file = file or bytearray(b"x")
    return bytes(file)


def uploads(client: Client, club: Club) -> list[tuple[str, str, dict[str, Any]]]:
    """Give each address that takes a file, the field's name, and the rest of it."""
    found = []
    for name, row in MATRIX.items():
        if row.get is None or (row.post is None and name not in SENT_TO):
            continue
        address = reverse(name, args=row.args(club))
        answer = client.get(address)
        # A bag's file goes to an address of its own.
        address = reverse(SENT_TO.get(name, name), args=row.args(club))
        for form in forms_of(answer) if answer.context is not None else ():
            found += [
                (address, field.html_name, as_shown(form))
                for field in form
                if isinstance(field.field, forms.FileField)
            ]
    return found


def status_of(client: Client, address: str, said: dict[str, Any]) -> int:
    """Send a file; where it is read afterwards, go on to that."""
    answer = client.post(address, said)
    draft = re.fullmatch(r"/pairing/drafts/\d+", answer.headers.get("Location", ""))
    if draft is not None:
        answer = client.get(draft[0])
        if answer.status_code < 500:
            answer = client.post(f"{draft[0]}/read")
    return int(answer.status_code)


@pytest.mark.parametrize(
    "count", [MUTANTS, pytest.param(MUTANTS_LONG, marks=pytest.mark.long)]
)
def test_no_file_breaks_whoever_reads_it_or_fills_the_memory(count: int) -> None:
    club = make_club()
    client = signed_in(club)
    takers = uploads(client, club)
    assert len(takers) >= 4
    chance, files = random.Random(count), list(seeds().items())
    broken, slowest = [], 0.0
    for number in range(count):
        name, seed = files[number % len(files)]
        content = mutant(seed, chance)
        # Each file to those who expect its kind, and now and then to any.
        address, field, rest = chance.choice(takers)
        begun = time.monotonic()
        with undone():
            file = SimpleUploadedFile(name, content)
            status = status_of(client, address, rest | {field: file})
            with contextlib.suppress(RefusedError):
                open_archive(io.BytesIO(content))
        slowest = max(slowest, time.monotonic() - begun)
        if status >= 500:
            broken.append((number, address, name, status))
    print(f"{count} files, the slowest {slowest:.1f} s")  # noqa: T201
    assert broken == []
    if sys.platform == "linux":
        # Of the children that read spreadsheets; KiB on Linux.
        most = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024
        # A child begins with what this process holds, before it runs its own.
        own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
        assert most <= max(MOST_BYTES, own), most
