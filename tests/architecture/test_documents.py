"""What the documents say, held against the code that they speak of."""

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md")
CODE = ("deploy", "inspection", "inventory", "tests")

# A letter and a number mean many things in a workshop; a decision is cited so.
CITED = re.compile(r"\((D\d+)\)|[Dd]ecision (D\d+)")
DECIDED = re.compile(r"^#+ (D\d+)\b", re.MULTILINE)
COMMAND = re.compile(r"^\s*(?:\$ )?(python3? deploy/\S+\.py.*)$", re.MULTILINE)


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def sources() -> Iterator[Path]:
    for folder in CODE:
        for pattern in ("*.py", "*.html", "*.js"):
            yield from (ROOT / folder).rglob(pattern)


def commands() -> list[str]:
    found = [line for name in DOCUMENTS for line in COMMAND.findall(text_of(name))]
    return sorted({line.partition("#")[0].strip() for line in found})


def test_decisions_that_the_code_cites_are_written_down() -> None:
    decided = set(DECIDED.findall(text_of("DEVELOPERS.md")))
    assert decided
    for path in sources():
        for found in CITED.finditer(path.read_text(encoding="utf-8")):
            assert (found[1] or found[2]) in decided, f"{path}: {found[0]}"


def test_decisions_are_numbered_once_each_without_a_gap() -> None:
    numbers = [int(name[1:]) for name in DECIDED.findall(text_of("DEVELOPERS.md"))]
    assert numbers == list(range(1, len(numbers) + 1))


def test_readme_has_the_two_commands() -> None:
    said = text_of("README.md")
    assert "python deploy/start.py" in said
    assert "python deploy/test.py" in said


def test_commands_of_the_documents_exist_with_their_options() -> None:
    assert commands()
    for line in commands():
        _, script, *words = shlex.split(line)
        done = subprocess.run(
            [sys.executable, script, "--help"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        for option in (word for word in words if word.startswith("--")):
            assert option.partition("=")[0] in done.stdout, line


def test_bag_of_the_readme_is_paired_as_it_says() -> None:
    said = text_of("README.md")
    (command,) = re.findall(r"manage\.py (pair_tyres [^\n]*\\\n[^\n]*)", said)
    done = subprocess.run(
        [sys.executable, "manage.py", *shlex.split(command.replace("\\\n", ""))],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "deploy.settings.local"},
    )
    shown = said.partition("Of fifty-two tyres:")[2].partition("The same file")[0]
    lines = [line.removeprefix("    ") for line in shown.strip("\n").splitlines()]
    quoted = [line for line in lines if line.strip() and line.strip() != "…"]
    assert len(quoted) > 4
    printed = done.stdout.splitlines()
    assert [line for line in quoted if line not in printed] == []


@pytest.mark.parametrize("name", DOCUMENTS)
def test_files_that_a_document_names_exist(name: str) -> None:
    linked = re.findall(r"\]\(([^)#:]+)[^):]*\)", text_of(name))
    for target in linked:
        assert (ROOT / target).exists(), target


@pytest.mark.parametrize("name", DOCUMENTS)
def test_documents_know_no_machine_and_no_registry(name: str) -> None:
    said = text_of(name)
    for word in ("/root/", "/home/", "--index-url"):
        assert word not in said
