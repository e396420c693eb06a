"""The shape of the tree: small modules, small folders, doors, short chains."""

import importlib
import re
from functools import cache
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).resolve().parents[2]
APPS = ("deploy", "inspection", "inventory")
MOST_LINES = 400
#: Goes to another machine as one file, and imports nothing that is not there.
ONE_FILE = "deploy/check_sheet.py"
MOST_MODULES = 16
LONGEST_CHAIN = 8


def folders() -> list[Path]:
    every = (path.parent for app in APPS for path in (ROOT / app).rglob("*.py"))
    return sorted({path for path in every if path.name != "migrations"})


def modules_of(folder: Path) -> list[Path]:
    return sorted(p for p in folder.glob("*.py") if p.name != "__init__.py")


def test_no_module_is_longer_than_four_hundred_lines() -> None:
    lengths = {
        path.relative_to(ROOT).as_posix(): len(path.read_text("utf-8").splitlines())
        for folder in folders()
        for path in modules_of(folder)
    }
    assert {name for name, n in lengths.items() if n > MOST_LINES} <= {ONE_FILE}


def test_no_folder_holds_more_than_sixteen_modules() -> None:
    counts = {
        folder.relative_to(ROOT).as_posix(): len(modules_of(folder))
        for folder in folders()
    }
    assert {name: n for name, n in counts.items() if n > MOST_MODULES} == {}


@cache
def imports() -> grimp.ImportGraph:
    return grimp.build_graph("inspection", "inventory", cache_dir=None)


def rooms() -> list[str]:
    graph = imports()
    return sorted(
        room
        for app in ("inspection", "inventory")
        for room in graph.find_children(f"{app}.compute")
        if graph.find_children(room)
    )


@pytest.mark.parametrize("folder", ["inspection.compute", "inventory.compute"])
def test_chains_of_imports_inside_a_room_are_short(folder: str) -> None:
    graph = imports()

    def longest(module: str, inside: frozenset[str]) -> int:
        further = graph.find_modules_directly_imported_by(module) & inside
        return 1 + max((longest(one, inside) for one in further), default=0)

    for room in (one for one in rooms() if one.startswith(folder)):
        descendants = graph.find_descendants(room)
        inside = frozenset(m for m in descendants if not graph.find_children(m))
        chain = max(longest(module, inside) for module in inside)
        assert chain <= LONGEST_CHAIN, f"{room}: {chain} modules in a row"


def test_each_room_has_a_door_that_a_contract_keeps() -> None:
    contracts = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for room in rooms():
        assert f'protected_modules = ["{room}.*"]' in contracts, room
        door = importlib.import_module(room)
        assert door.__doc__, room
        assert door.__all__, room
        assert all(hasattr(door, name) for name in door.__all__), room


def test_computing_interface_is_where_the_guide_says() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = guide.partition("### The computing interface")[2].partition("### ")[0]
    rows = re.findall(r"^\| `([\w.]+)` \| (.+) \|$", table, re.MULTILINE)
    assert rows
    for room, names in rows:
        public = set(importlib.import_module(room).__all__)
        assert set(re.findall(r"`(\w+)`", names)) <= public, room


def test_files_that_the_guide_names_exist() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:deploy|inspection|inventory|tests)/[\w./]+)`", guide)
    assert named
    assert [name for name in named if not (ROOT / name).exists()] == []
