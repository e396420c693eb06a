"""Pair a file of tyres without a server or a database."""

import sys
from argparse import ArgumentParser
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.compute.bag import Asked, GroupBy, PairingWay, pair_bag, true_the_rest
from inventory.compute.batch_estimates import estimates_of_batch
from inventory.compute.batch_rows import BatchRow, PartWord, RowFault
from inventory.compute.errors import ComputeError
from inventory.compute.gauges import Gauge
from inventory.compute.loose_bags import bag_of_rows
from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.rejects import RejectLimits
from inventory.compute.stock import PartKind
from inventory.compute.truing import TruingPlan
from inventory.compute.units import Unit, parse_reading, tolerance_um
from inventory.files import limits
from inventory.files.columns import (
    PLAUSIBLE_MM,
    DecimalSign,
    Layout,
    LengthUnit,
    guess_layout,
)
from inventory.files.exports import ExportForm, ExportTable, write_table
from inventory.files.rows import read_rows
from inventory.files.tables import read_table
from inventory.loaders.batches import LoadedBag
from inventory.views.pairing_answers import Answer
from inventory.views.pairing_tables import pairs_table

_TABLE = "table"


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
        parser.add_argument("--sheet", default="", help="of a workbook")
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

    def handle(self, *args: Any, **said: Any) -> None:
        try:
            asked = asked_of(said)
            rows = self._rows(said)
            answer = answer_to(rows, asked, said)
        except ComputeError as error:
            raise CommandError(str(error)) from error
        form = said["format"] or _form_of(said["output"])
        if form == _TABLE:
            content = text_of(answer).encode()
        else:
            content = write_table(pairs_table(answer), ExportForm(form))
        self._write(content, said["output"], form)

    def _rows(self, said: dict[str, Any]) -> list[BatchRow]:
        table = read_table(_content(said["file"]), sheet=said["sheet"])
        layout = _layout(guess_layout(table, PartKind.TYRE), said)
        if layout.decimal is DecimalSign.ASKED:
            msg = "The file has decimal points and decimal commas: say --decimal."
            raise CommandError(msg)
        read = read_rows(table, layout, PartKind.TYRE)
        for fault in read.faults:
            self.stderr.write(fault_text(fault))
        if read.faults:
            count = len({fault.number for fault in read.faults})
            msg = f"{count} bad row(s) of {count + len(read.rows)}; nothing was paired."
            raise CommandError(msg)
        if not read.rows:
            msg = "The file has no row of data that could be read."
            raise CommandError(msg)
        return read.rows

    def _write(self, content: bytes, output: Path | None, form: str) -> None:
        if output is not None:
            output.write_bytes(content)
        elif form == ExportForm.XLSX:
            msg = "A workbook is no text: say --output."
            raise CommandError(msg)
        else:
            self.stdout.write(content.decode("utf-8-sig"), ending="")


def asked_of(said: dict[str, Any]) -> Asked:
    """Give what the options ask of the bag."""
    way = PairingWay.PAIRS
    if said["stagger"] is not None:
        way = PairingWay.STAGGER
    elif said["sets"] is not None:
        way = PairingWay.SETS
    return Asked(
        way=way,
        tolerance_um=tolerance_um(said["tolerance"]),
        stagger_um=tolerance_um(said["stagger"] or "0"),
        group_by=tuple(GroupBy(word) for word in said["group_by"]),
        set_size=4 if said["sets"] is None else said["sets"],
        limits=RejectLimits(
            low_mm=_mm(said["smallest"]),
            high_mm=_mm(said["largest"]),
            out_of_round_mm=_mm(said["out_of_round"], default=float("inf")),
            taper_mm=_mm(said["taper"], default=float("inf")),
            reading_count=said["readings"],
        ),
    )


def answer_to(rows: list[BatchRow], asked: Asked, said: dict[str, Any]) -> Answer:
    """Pair the rows."""
    own = _mm(said["resolution"]), _mm(said["repeatability"])
    gauges = {
        quantity: Gauge(own[0], 0.0, own[1])
        if scale.unit is Unit.MILLIMETRE
        else Gauge(0.0, 0.0, scale.repeatability)
        for quantity, scale in PART_SCALES.items()
    }
    bag = bag_of_rows(rows, estimates_of_batch(rows, gauges))
    found = pair_bag(bag, asked)
    plan: TruingPlan | None = None
    if said["true"] is not None:
        plan = true_the_rest(
            bag,
            found,
            max_removal_um=tolerance_um(said["true"]),
            floor_um=tolerance_um(said["floor"]),
        )
    names = [row.words.get(PartWord.NAME, "") for row in rows]
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
    track = said["track"]
    return Answer(
        loaded=loaded,
        asked=asked,
        found=found,
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


def _layout(guessed: Layout, said: dict[str, Any]) -> Layout:
    layout = replace(
        guessed, low_mm=_mm(said["smallest"]), high_mm=_mm(said["largest"])
    )
    if said["unit"] is not None:
        layout = replace(layout, unit=LengthUnit(said["unit"]))
    if said["decimal"] is not None:
        layout = replace(layout, decimal=DecimalSign(said["decimal"]))
    return layout


def _content(path: Path) -> bytes:
    if str(path) == "-":
        return sys.stdin.buffer.read(limits.BYTES + 1)
    try:
        with path.open("rb") as file:
            return file.read(limits.BYTES + 1)
    except OSError as error:
        msg = f"{path}: {error.strerror}"
        raise CommandError(msg) from error


def _form_of(output: Path | None) -> str:
    ending = "" if output is None else output.suffix.lower().lstrip(".")
    return ending if ending in set(ExportForm) else _TABLE


def _mm(text: str | None, *, default: float = 0.0) -> float:
    return default if text is None else parse_reading(text, unit=Unit.MILLIMETRE).value
