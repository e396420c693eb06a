"""A sealed sheet's rows, each as the seal's content would say it."""

import datetime as dt
import struct
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from inspection.compute.night import PartPosition
from inspection.compute.stance import BETWEEN
from inspection.loaders.block.motor_seals import whole_then
from inspection.loaders.block.notes import (
    motor_seal_as_json,
    note_as_json,
    pictures_as_json,
)
from inspection.loaders.block.readings import load_readings
from inspection.loaders.block.seals import reading_as_json
from inspection.models import (
    Finding,
    MotorSeal,
    Seal,
    SealInputs,
    SheetNote,
    SheetPart,
    SheetReading,
)

FIRST_FORMAT = "feelerbook sheet 1"
_BOUNDS = {None: 0, True: 1, False: -1}
#: What SealInputs packs of a column: five little-endian 64-bit numbers.
_PACKED = struct.Struct("<5q")


@dataclass(frozen=True, kw_only=True)
class SealedRows:
    """A seal with its sheet, and all rows of that sheet."""

    seal: Seal
    readings: list[SheetReading]
    parts: list[SheetPart]
    findings: list[Finding]
    notes: list[SheetNote]
    pictures: dict[int, dict[str, Any]]
    motor_seals: list[MotorSeal]


def load_sealed_rows(seal_ids: Iterable[int]) -> list[SealedRows]:
    """Load seals with all that hangs on their sheets, in the order of the chain."""
    seals = list(
        Seal.objects.filter(pk__in=list(seal_ids))
        .select_related(
            "inputs",
            "night",
            "signed",
            "sheet__entry__car",
            "sheet__entry__race_class",
            "sheet__entry__night",
            "sheet__edition__rulebook",
            "sheet__block",
            "sheet__previous",
        )
        .order_by("sequence")
    )
    sheets = [seal.sheet for seal in seals]
    readings: dict[int, list[SheetReading]] = defaultdict(list)
    for reading in load_readings(*sheets):
        readings[reading.sheet_id].append(reading)
    parts: dict[int, list[SheetPart]] = defaultdict(list)
    for part in SheetPart.objects.filter(sheet__in=sheets).select_related("part"):
        parts[part.sheet_id].append(part)
    findings: dict[int, list[Finding]] = defaultdict(list)
    for row in Finding.objects.filter(sheet__in=sheets).select_related("rule"):
        findings[row.sheet_id].append(row)
    notes: dict[int, list[SheetNote]] = defaultdict(list)
    for note in SheetNote.objects.filter(sheet__in=sheets).order_by("pk"):
        notes[note.sheet_id].append(note)
    pictures = pictures_as_json([note for some in notes.values() for note in some])
    motor_seals = list(
        MotorSeal.objects.filter(
            Q(car__in=[sheet.entry.car_id for sheet in sheets])
            | Q(motor__in=[_motor_of(parts[sheet.pk]) for sheet in sheets])
        ).select_related("broken")
    )
    return [
        SealedRows(
            seal=seal,
            readings=readings[seal.sheet_id],
            parts=parts[seal.sheet_id],
            findings=findings[seal.sheet_id],
            notes=notes[seal.sheet_id],
            pictures=pictures,
            motor_seals=motor_seals,
        )
        for seal in seals
    ]


def _motor_of(parts: Iterable[SheetPart]) -> int | None:
    places = {part.position: part.part_id for part in parts}
    return places.get(PartPosition.MOTOR)


def stored_facts(rows: SealedRows) -> dict[str, Any]:
    """Say of the rows what the content says too; people by their number alone."""
    seal, sheet = rows.seal, rows.seal.sheet
    entry, edition = sheet.entry, sheet.edition
    return {
        "decision": seal.decision,
        "sealed by": seal.sealed_by_id,
        "sealed at": _moment(seal.sealed_at),
        "own car": seal.is_own_car,
        "place in the chain": seal.sequence,
        "number": sheet.number,
        "supersedes": sheet.previous.number if sheet.previous else sheet.previous_id,
        "night": [entry.night.name, entry.night.date.isoformat()],
        "night of the seal": [seal.night.name, seal.night.date.isoformat()],
        "car": entry.number,
        "car's tag": entry.car.tag,
        "class": entry.race_class.name,
        "driver": entry.driver_id,
        "parts": sorted([row.position, row.part.tag] for row in rows.parts),
        "edition": str(edition),
        "edition's hash": edition.sha256,
        "decision rule": edition.decision_rule,
        "confidence": str(edition.confidence.normalize()),
        "stage": sheet.stage,
        "block": sheet.block.name if sheet.block else sheet.block_id,
        "started at": _moment(sheet.started_at),
        "started by": sheet.started_by_id,
        "on paper at": _moment(sheet.paper_at) if sheet.paper_at else None,
        "readings": {
            str(row.reading_id): without_names(reading_as_json(row)) | _pointing(row)
            for row in rows.readings
        },
        "findings": {row.rule.number: _finding(row) for row in rows.findings},
        "notes": [
            note_as_json(note, rows.pictures.get(note.pk), note.by_id)
            for note in rows.notes
        ],
        "motor seals": [
            motor_seal_as_json(one, one.by_id)
            for one in whole_then(
                rows.motor_seals, seal.sealed_at, entry.car_id, _motor_of(rows.parts)
            )
        ],
        "inputs": _inputs(getattr(seal, "inputs", None)),
    }


def as_the_first_said(facts: dict[str, Any], content: dict[str, Any]) -> dict[str, Any]:
    """Take from stored facts what the first seals did not say."""
    if "car_tag" not in content["item"]:
        facts = facts | {"car's tag": None}
    if content["format"] != FIRST_FORMAT:
        return facts
    readings = {
        key: row
        if "carried_from" not in row
        else row | {"carried_from": row["carried_from"]["sheet"]}
        for key, row in facts["readings"].items()
    }
    findings = {
        key: row | {"probability": None} for key, row in facts["findings"].items()
    }
    return facts | {"readings": readings, "findings": findings}


def sealed_facts(content: dict[str, Any]) -> dict[str, Any]:
    """Say of a seal's content what ``stored_facts`` says of the rows."""
    item, procedure = content["item"], content["procedure"]
    night = [content["night"]["name"], content["night"]["date"]]
    return {
        "decision": content["decision"],
        "sealed by": content["sealed_by"]["id"],
        "sealed at": _moment(dt.datetime.fromisoformat(content["sealed_at"])),
        "own car": content["own_car"],
        "place in the chain": content["sequence"],
        "number": content["number"],
        "supersedes": content["supersedes"],
        "night": night,
        "night of the seal": night,
        "car": item["car"],
        "car's tag": item.get("car_tag"),
        "class": item["class"],
        "driver": item["driver"]["id"],
        "parts": sorted([part["position"], part["tag"]] for part in item["parts"]),
        "edition": procedure["edition"],
        "edition's hash": procedure["sha256"],
        "decision rule": procedure["decision_rule"],
        "confidence": procedure["confidence"],
        "stage": procedure["stage"],
        "block": procedure["block"],
        "started at": _moment(dt.datetime.fromisoformat(content["started_at"])),
        "started by": content["started_by"]["id"],
        "on paper at": _moment(dt.datetime.fromisoformat(content["paper_at"]))
        if "paper_at" in content
        else None,
        "readings": {row["id"]: without_names(row) for row in content["readings"]},
        "findings": {row["rule"]: _said(row) for row in content["findings"]},
        "notes": without_names(content.get("notes", [])),
        "motor seals": without_names(item.get("motor_seals", [])),
        "inputs": _said_inputs(content["values"]),
    }


def without_names(value: Any) -> Any:
    """Leave of each person the number alone: a name can be erased."""
    if isinstance(value, dict):
        if value.keys() == {"id", "name"}:
            return value["id"]
        return {key: without_names(one) for key, one in value.items()}
    if isinstance(value, list):
        return [without_names(one) for one in value]
    return value


def _pointing(row: SheetReading) -> dict[str, int]:
    """Name what a reading points to where it is not there, or not what it may be."""
    mode, check = row.gauge_mode, row.gauge_check
    # The check is said with the gauge, and is one of that gauge.
    is_its_own = mode and check and check.gauge_id == mode.gauge_id
    keys = {
        "gauge": (row.gauge_mode_id, mode),
        "gauge check": (row.gauge_check_id, is_its_own),
        "carried_from": (row.carried_from_id, row.carried_from),
    }
    return {
        name: key for name, (key, row_there) in keys.items() if key and not row_there
    }


def _moment(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat()


def _finding(row: Finding) -> dict[str, Any]:
    return {
        "quantity": row.rule.quantity,
        "force": row.rule.force,
        "outcome": row.outcome,
        "admitted": row.is_admitted,
        "taken": row.is_taken,
        "value": row.value,
        "u": row.u_value,
        "margin": row.margin,
        "probability": row.probability,
        "point": row.point or None,
    }


def _said(row: dict[str, Any]) -> dict[str, Any]:
    keys = ("quantity", "force", "outcome", "admitted", "taken", "value", "margin")
    return {
        **{key: row[key] for key in keys},
        "u": None if row["u"] is None else round(row["u"]),
        "probability": row.get("probability"),
        "point": row["point"],
    }


def _inputs(row: SealInputs | None) -> dict[str, list[int]]:
    if row is None:
        return {}
    names, packed = row.columns.split(" "), bytes(row.numbers)
    if len(packed) != len(names) * _PACKED.size:
        return {"length": [len(packed)]}
    numbers = _PACKED.iter_unpack(packed)
    return {name: list(five) for name, five in zip(names, numbers, strict=True)}


def _said_inputs(values: list[dict[str, Any]]) -> dict[str, list[int]]:
    gauges: dict[tuple[int, ...], int] = {}
    inputs = {}
    for row in values:
        key = tuple(row["gauge"]) if row["gauge"] else None
        gauge = -1 if key is None else gauges.setdefault(key, len(gauges))
        parts = [row["value"], row["random"], row["systematic"]]
        bound = BETWEEN if row.get("between_slips") else _BOUNDS[row["went_under"]]
        inputs[row["column"]] = [*parts, gauge, bound]
    return inputs
