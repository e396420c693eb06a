"""What a bench measured, on a line that ``python -m tests.bench`` finds again."""

from dataclasses import dataclass
from typing import Final

_MARK: Final = "= "
_APART: Final = " | "


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One line of the table: what was promised, what came out, and beside what."""

    what: str
    promised: str
    measured: str
    beside: str

    def say(self) -> None:
        """Print it."""
        said = (self.what, self.promised, self.measured, self.beside)
        print(_MARK + _APART.join(said))


def figures_in(said: str) -> list[Figure]:
    """Find the figures in what a bench printed."""
    rows = (
        line.removeprefix(_MARK).split(_APART)
        for line in said.splitlines()
        if line.startswith(_MARK)
    )
    return [
        Figure(what=what, promised=promised, measured=measured, beside=beside)
        for what, promised, measured, beside in rows
    ]


def table_of(figures: list[Figure]) -> str:
    """Write them as a table of Markdown."""
    lines = [
        "| what | promised | measured | beside what |",
        "| --- | --- | --- | --- |",
    ]
    rows = ((one.what, one.promised, one.measured, one.beside) for one in figures)
    lines += [f"| {' | '.join(row)} |" for row in rows]
    return "\n".join(lines)
