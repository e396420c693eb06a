"""A local says what it holds: `found` and `said` could be anything."""

import re

from tests.architecture.test_structure import ROOT, folders, modules_of

#: Of each; there for a few where a better word would only be longer.
MOST = 10
_ASSIGNED = re.compile(r"^\s+(found|said)(?:: [^=\n]+)? (?::|\|)?= ", re.MULTILINE)


def test_few_locals_are_called_found_or_said() -> None:
    places: dict[str, list[str]] = {"found": [], "said": []}
    for folder in folders():
        for path in modules_of(folder):
            for name in _ASSIGNED.findall(path.read_text("utf-8")):
                places[name].append(path.relative_to(ROOT).as_posix())
    assert {name: at for name, at in places.items() if len(at) >= MOST} == {}
