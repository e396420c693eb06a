"""
The table of the security standard is whole, and the tests that it names are there.

The numbers of levels 1 and 2 are those of OWASP's Application Security Verification
Standard 5.0.0, of its file of comma-separated values (github.com/OWASP/ASVS, folder
5.0/docs_en): 253 in all, 70 of level 1.
"""

import re
from collections.abc import Iterator

from tests.deploy.servers import ROOT

TABLE = (ROOT / "deploy" / "ASVS.md").read_text(encoding="utf-8")
#: By section: how many there are up to the last of level 2, and those of level 3.
SECTIONS = {
    "1.1": 2, "1.2": 9, "1.3": 11, "1.4": 3, "1.5": 2,
    "2.1": 3, "2.2": 3, "2.3": 4, "2.4": 1,
    "3.2": 2, "3.3": 4, "3.4": 6, "3.5": 5, "3.7": 2,
    "4.1": 3, "4.2": 1, "4.3": 2, "4.4": 4,
    "5.1": 1, "5.2": 3, "5.3": 2, "5.4": 3,
    "6.1": 3, "6.2": 12, "6.3": 4, "6.4": 4, "6.5": 5, "6.6": 3, "6.8": 4,
    "7.1": 3, "7.2": 4, "7.3": 2, "7.4": 5, "7.5": 2, "7.6": 2,
    "8.1": 2, "8.2": 3, "8.3": 1, "8.4": 1,
    "9.1": 3, "9.2": 4,
    "10.1": 2, "10.2": 2, "10.3": 4, "10.4": 11, "10.5": 5, "10.6": 2, "10.7": 3,
    "11.1": 2, "11.2": 3, "11.3": 3, "11.4": 4, "11.5": 1, "11.6": 1,
    "12.1": 3, "12.2": 2, "12.3": 4,
    "13.1": 1, "13.2": 5, "13.3": 2, "13.4": 5,
    "14.1": 2, "14.2": 4, "14.3": 3,
    "15.1": 3, "15.2": 3, "15.3": 7,
    "16.1": 1, "16.2": 5, "16.3": 4, "16.4": 3, "16.5": 3,
    "17.1": 1, "17.2": 4, "17.3": 2,
}  # fmt: skip
ROW = re.compile(
    r"^\| (\d+\.\d+)\.(\d+)(?: to (\d+\.\d+)\.(\d+))? \| (.+) \|$", re.MULTILINE
)


def rows() -> Iterator[tuple[str, str]]:
    """Give each requirement of the table by its number, and how it is met."""
    for section, first, other, last, how in ROW.findall(TABLE):
        assert other in {"", section}
        for number in range(int(first), int(last or first) + 1):
            yield f"{section}.{number}", how


def test_every_requirement_of_level_two_has_one_row() -> None:
    wanted = [f"{s}.{n}" for s, most in SECTIONS.items() for n in range(1, most + 1)]
    assert len(wanted) == 253
    assert [number for number, _ in rows()] == wanted


def test_each_row_says_something_and_each_test_it_names_is_there() -> None:
    for number, how in rows():
        assert len(how) >= 4, number
        for name in re.findall(r"tests/[\w/]+\.py", how):
            assert (ROOT / name).exists(), f"{number}: {name}"
        for name in re.findall(r"`((?:deploy|inventory)/[\w/]+\.py)`", how):
            assert (ROOT / name).exists(), f"{number}: {name}"
