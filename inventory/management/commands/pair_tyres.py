"""
Pair a file of tyres without a server or a database.

What it will not do is said in one sentence, after a line for each row that is wrong,
and ends it with 2.
"""

import sys
from argparse import ArgumentParser
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.compute.batches import (
    BatchRow,
    RowFault,
    bag_of_rows,
    estimates_of_batch,
)
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import Gauge
from inventory.compute.numbers import Unit, parse_reading, tolerance_um
from inventory.compute.pairing import (
    Asked,
    GroupBy,
    PairingWay,
    RejectLimits,
    TruingPlan,
    pair_bag,
    true_the_rest,
)
from inventory.compute.stock import PART_SCALES, PartKind
from inventory.files import limits
from inventory.files.columns import (
    PLAUSIBLE_MM,
    ColumnLayout,
    DecimalSign,
    LengthUnit,
    guess_layout,
)
from inventory.files.exports import ExportForm, ExportTable, write_table
from inventory.files.rows import read_rows
from inventory.files.tables import Table, read_table
from inventory.forms.answers import Answer
from inventory.loaders.batches import LoadedBag
from inventory.management.said_columns import with_column
from inventory.views.pairing.pieces import proof_of
from inventory.views.pairing.tables import pairs_json, pairs_table
from inventory.words.numbers import error_words

_TABLE = "table"
_REFUSED = 2


class _RefusedError(CommandError):
    """What was asked cannot be done; the process ends with 2."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence, returncode=_REFUSED)


class Command(BaseCommand):
    help = (
        "Pair the tyres of a CSV or XLSX file: most pairs first, then the tightest. "
        "Uses no database."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        low, high = PLAUSIBLE_MM
        parser.add_argument("file", type=Path, help="CSV or XLSX; - reads from a pipe")
        parser.add_argument("--tolerance", default="0.05", help="mm, or 0.002in")
        way = parser.add_mutually_exclusive_group()
        way.add_argument("--stagger", help="wanted difference, larger less smaller")
        way.add_argument("--sets", type=int, metavar="N", help="sets of N instead")
        parser.add_argument(
            "--group-by",
            action="append",
            default=[],
            choices=[word.value for word in GroupBy],
            help="pair only with its like; may be given again",
        )
        parser.add_argument("--out-of-round", help="reject a tyre beyond this")
        parser.add_argument("--taper", help="reject a tyre beyond this, either way")
        parser.add_argument("--readings", type=int, default=1, help="at least so many")
        parser.add_argument("--smallest", default=f"{low:g}", help="size possible")
        parser.add_argument("--largest", default=f"{high:g}", help="size possible")
        parser.add_argument("--resolution", default="0.01", help="step of the gauge")
        parser.add_argument("--repeatability", default="0.03", help="of the gauge")
        parser.add_argument("--track", help="of a car, to show each pair's drift")
        parser.add_argument("--true", metavar="MOST", help="plan truing: off at most")
        parser.add_argument("--floor", default=f"{low:g}", help="no tyre below this")
        parser.add_argument(
            "--clean-up", default="0", help="off even the smallest section, with --true"
        )
        parser.add_argument("--sheet", default="", help="of a workbook")
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="ROLE=COLUMN",
            help="what a column holds, by its letter or its heading, as in "
            "compound=C or “tag=Bag no”; may be given again",
        )
        parser.add_argument(
            "--first-row", type=int, metavar="N", help="row in which the data start"
        )
        parser.add_argument(
            "--leave-out", action="store_true", help="pair without the rows in error"
        )
        parser.add_argument("--unit", choices=list(LengthUnit), help="of bare sizes")
        parser.add_argument(
            "--decimal",
            choices=[DecimalSign.POINT, DecimalSign.COMMA, DecimalSign.EITHER],
            help="sign, where the file has both",
        )
        parser.add_argument(
            "--format", choices=[_TABLE, *ExportForm], help="table unless said"
        )
        parser.add_argument("--output", type=Path, help="a file instead of the screen")
        parser.add_argument(
            "--force", action="store_true", help="write over a file that is there"
        )

    def get_version(self) -> str:
        return settings.VERSION

    def create_parser(
        self, prog_name: str, subcommand: str, **options: Any
    ) -> CommandParser:
        parser = super().create_parser(prog_name, subcommand, **options)
        # A wrong option is said as a wrong file is: without the list of all options.
        parser.called_from_command_line = False
        return parser

    def run_from_argv(self, argv: list[str]) -> None:
        try:
            parser = self.create_parser(argv[0], argv[1])
            options = vars(parser.parse_args(argv[2:]))
            self.execute(*options.pop("args", ()), **options)
        except CommandError as error:
            self.stderr.write(str(error).removeprefix("Error: "))
            sys.exit(_REFUSED)

    def handle(self, *args: Any, **said: Any) -> None:
        try:
            asked = asked_of(said)
            rows = self._rows(said)
            answer = answer_to(rows, asked, said)
        except ComputeError as error:
            raise _RefusedError(error_words(error)) from error
        form = said["format"] or _form_of(said["output"])
        if form == _TABLE:
            content = text_of(answer).encode()
        elif form == ExportForm.JSON:
            content = pairs_json(answer)
        else:
            content = write_table(pairs_table(answer), ExportForm(form))
        self._write(content, said["output"], form, is_forced=said["force"])

    def _rows(self, options: dict[str, Any]) -> list[BatchRow]:
        table = read_table(_content(options["file"]), sheet=options["sheet"])
        layout = _layout(table, guess_layout(table, PartKind.TYRE), options)
        if layout.decimal is DecimalSign.ASKED:
            msg = "The file has decimal points and decimal commas: say --decimal."
            raise _RefusedError(msg)
        read = read_rows(table, layout, PartKind.TYRE)
        for fault in read.faults:
            self.stderr.write(fault_text(fault))
        if read.faults and not options["leave_out"]:
            count = len({fault.number for fault in read.faults})
            msg = (
                f"{count} bad row(s) of {count + len(read.rows)}; nothing was paired: "
                "mend them, or say --leave-out."
            )
            raise _RefusedError(msg)
        if not read.rows:
            msg = "The file has no row of data that could be read."
            raise _RefusedError(msg)
        return read.rows

    def _write(
        self, content: bytes, output: Path | None, form: str, *, is_forced: bool
    ) -> None:
        if output is None:
            if form == ExportForm.XLSX:
                msg = "A workbook is no text: say --output."
                raise _RefusedError(msg)
            self.stdout.write(content.decode("utf-8-sig"), ending="")
            return
        try:
            with output.open("wb" if is_forced else "xb") as file:
                file.write(content)
        except FileExistsError as error:
            msg = f"{output} is there already: say --force to write over it."
            raise _RefusedError(msg) from error
        except OSError as error:
            msg = f"{output} cannot be written: {error.strerror}."
            raise _RefusedError(msg) from error


def asked_of(options: dict[str, Any]) -> Asked:
    """Give what the options ask of the bag."""
    way = PairingWay.PAIRS
    if options["stagger"] is not None:
        way = PairingWay.STAGGER
    elif options["sets"] is not None:
        way = PairingWay.SETS
    return Asked(
        way=way,
        tolerance_um=tolerance_um(options["tolerance"]),
        stagger_um=tolerance_um(options["stagger"] or "0"),
        group_by=tuple(GroupBy(word) for word in options["group_by"]),
        set_size=4 if options["sets"] is None else options["sets"],
        limits=RejectLimits(
            low_mm=_mm(options["smallest"]),
            high_mm=_mm(options["largest"]),
            out_of_round_mm=_mm(options["out_of_round"], default=float("inf")),
            taper_mm=_mm(options["taper"], default=float("inf")),
            reading_count=options["readings"],
        ),
    )


def answer_to(rows: list[BatchRow], asked: Asked, options: dict[str, Any]) -> Answer:
    """Pair the rows."""
    own = _mm(options["resolution"]), _mm(options["repeatability"])
    gauges = {
        quantity: Gauge(own[0], 0.0, own[1])
        if scale.unit is Unit.MILLIMETRE
        else Gauge(0.0, 0.0, scale.repeatability)
        for quantity, scale in PART_SCALES.items()
    }
    bag = bag_of_rows(rows, estimates_of_batch(rows, gauges))
    paired = pair_bag(bag, asked)
    plan: TruingPlan | None = None
    if options["true"] is not None:
        plan = true_the_rest(
            bag,
            paired,
            max_removal_um=tolerance_um(options["true"]),
            floor_um=tolerance_um(options["floor"]),
            clean_up_um=tolerance_um(options["clean_up"]),
        )
    names = [row.words.get("name", "") for row in rows]
    tags = [
        row.tag or name or f"row {row.number}"
        for row, name in zip(rows, names, strict=True)
    ]
    loaded = LoadedBag(
        bag=bag,
        part_ids=[],
        tags=tags,
        # What stands for the tag need not stand there twice.
        names=["" if n == t else n for n, t in zip(names, tags, strict=True)],
        drawers=[""] * len(rows),
    )
    track = options["track"]
    return Answer(
        loaded=loaded,
        asked=asked,
        found=paired,
        plan=plan,
        track_mm=None if track is None else _mm(track),
    )


def text_of(answer: Answer) -> str:
    """Write pairs, rest and truing plan as a table of text."""
    table = pairs_table(answer)
    lines = _lines(table)
    count, rest = len(answer.found.members), answer.found.leftover.size
    what = "sets" if answer.asked.way is PairingWay.SETS else "pairs"
    rejected = answer.found.rejected.size
    lines.append(f"{count} {what}, {rest} left over, {rejected} rejected")
    if proof := proof_of(answer.found, answer.asked.way):
        lines.append(proof)
    if answer.plan is not None:
        lines += ["", "Truing: rubber dust and grit; wear eye and dust protection."]
        tags, size = answer.loaded.tags, answer.loaded.bag.size_um
        lines += [
            f"{tags[grind]} {size[grind] / 1000:.3f} -> {target / 1000:.3f}, "
            f"with {tags[keep]} {size[keep] / 1000:.3f}"
            for keep, grind, target in zip(
                answer.plan.keep, answer.plan.grind, answer.plan.target_um, strict=True
            )
        ] or ["none makes a pair"]
    return "\n".join(lines) + "\n"


def fault_text(fault: RowFault) -> str:
    """Write a bad row as one line."""
    where = f"row {fault.number}" + (f", column {fault.column}" if fault.column else "")
    value = f" “{fault.value}”" if fault.value else ""
    return f"{where}{value}: {fault.sentence}"


def _lines(table: ExportTable) -> list[str]:
    cells = [
        [
            _shown(cell, heading)
            for cell, heading in zip(row, table.headings, strict=True)
        ]
        for row in [table.headings, *table.rows]
    ]
    used = [any(row[column] for row in cells[1:]) for column in range(len(cells[0]))]
    kept = [
        [cell for cell, is_used in zip(row, used, strict=True) if is_used]
        for row in cells
    ]
    widths = [max(len(row[column]) for row in kept) for column in range(sum(used))]
    return [
        "  ".join(
            cell.ljust(width) for cell, width in zip(row, widths, strict=True)
        ).rstrip()
        for row in kept
    ]


def _shown(cell: Any, heading: str) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.3f}" if heading.endswith("mm") else f"{cell:.1f}"
    return str(cell)


def _layout(
    table: Table, guessed: ColumnLayout, options: dict[str, Any]
) -> ColumnLayout:
    layout = replace(
        guessed, low_mm=_mm(options["smallest"]), high_mm=_mm(options["largest"])
    )
    if options["unit"] is not None:
        layout = replace(layout, unit=LengthUnit(options["unit"]))
    if options["decimal"] is not None:
        layout = replace(layout, decimal=DecimalSign(options["decimal"]))
    if options["first_row"] is not None:
        if not 1 <= options["first_row"] <= len(table.rows):
            msg = (
                f"--first-row {options['first_row']}: the file has rows 1 to "
                f"{len(table.rows)}."
            )
            raise _RefusedError(msg)
        layout = replace(layout, first_row=options["first_row"] - 1)
    for pair in options["column"]:
        layout = with_column(table, layout, pair)
    return layout


def _content(path: Path) -> bytes:
    if str(path) == "-":
        return sys.stdin.buffer.read(limits.BYTES + 1)
    try:
        with path.open("rb") as file:
            return file.read(limits.BYTES + 1)
    except OSError as error:
        msg = f"{path} cannot be read: {error.strerror}."
        raise _RefusedError(msg) from error


def _form_of(output: Path | None) -> str:
    ending = "" if output is None else output.suffix.lower().lstrip(".")
    return ending if ending in set(ExportForm) else _TABLE


def _mm(text: str | None, *, default: float = 0.0) -> float:
    return default if text is None else parse_reading(text, unit=Unit.MILLIMETRE).value
