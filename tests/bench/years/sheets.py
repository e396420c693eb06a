"""Sheets of a copied night: what was read of each car, and the chain of its seals."""

import datetime as dt
import json
import random
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from inspection.compute.night import chained_hash
from inspection.models import (
    Entry,
    Finding,
    RaceNight,
    Seal,
    SealContent,
    SealInputs,
    Sheet,
    SheetPart,
    SheetReading,
    Strike,
)
from inventory.models import Part
from tests.bench.years.garage import YearsCar
from tests.bench.years.gauges import Gauges
from tests.bench.years.parts import Learned, any_id
from tests.bench.years.people import Cast
from tests.bench.years.templates import EntryTemplate, Row, SheetTemplate, Templates
from tests.lifted import guards_lifted


@dataclass(kw_only=True)
class EntryCopy:
    """An entry of a night as it is written."""

    like: EntryTemplate
    car: YearsCar
    entry: Entry
    worn: Mapping[str, Part]
    shift: dt.timedelta
    sheets: list["SheetCopy"] = field(default_factory=list)


@dataclass(kw_only=True)
class SheetCopy:
    """
    A sheet of it; ``became`` is what each reading of the template is now.

    ``sha256`` is its seal's.
    """

    of: EntryCopy
    like: SheetTemplate
    sheet: Sheet
    became: dict[int, SheetReading] = field(default_factory=dict)
    sha256: str = ""

    @property
    def sealed_at(self) -> dt.datetime:
        at: dt.datetime = self.like.seal["sealed_at"]
        return at + self.of.shift


class SheetsOfNight:
    """Writes the sheets of one night."""

    def __init__(
        self, night: RaceNight, cast: Cast, gauges: Gauges, *, rng: random.Random
    ) -> None:
        self.night, self.cast, self.gauges, self.rng = night, cast, gauges, rng

    def write(self, copies: Sequence[EntryCopy], learned: Learned) -> None:
        """Write the sheets wave by wave, a re-check after what it follows."""
        numbers = self._numbers(copies)
        for wave in range(max(len(one.like.sheets) for one in copies)):
            some = [one for one in copies if wave < len(one.like.sheets)]
            self._wave([self._sheet(one, wave, numbers) for one in some])
        sheets = [sheet for one in copies for sheet in one.sheets]
        self._rest_of(sheets)
        self._seal(sorted(sheets, key=lambda one: one.sealed_at))
        for one in sheets:
            self._learn(one, learned)

    def _numbers(self, copies: Sequence[EntryCopy]) -> dict[tuple[int, int], str]:
        """Give numbers in the order in which the sheets were begun."""
        begun = sorted(
            (sheet.sheet["started_at"] + one.shift, one.entry.pk, place)
            for one in copies
            for place, sheet in enumerate(one.like.sheets)
        )
        return {
            (entry, place): f"{self.night.date:%Y%m%d}-{self.night.pk}-{count:03}"
            for count, (_, entry, place) in enumerate(begun, start=1)
        }

    def _person(self, played_by: int, copy: EntryCopy) -> int:
        return self.cast.person(played_by, copy.car.owner_id)

    def _sheet(
        self, copy: EntryCopy, place: int, numbers: Mapping[tuple[int, int], str]
    ) -> SheetCopy:
        like = copy.like.sheets[place]
        previous = None if like.previous is None else copy.sheets[like.previous]
        said = {
            "id": None,
            "number": numbers[copy.entry.pk, place],
            "entry_id": copy.entry.pk,
            "previous_id": previous.sheet.pk if previous else None,
            "started_at": like.sheet["started_at"] + copy.shift,
            "started_by_id": self._person(like.sheet["started_by_id"], copy),
        }
        return SheetCopy(of=copy, like=like, sheet=Sheet(**like.sheet | said))

    def _wave(self, made: Sequence[SheetCopy]) -> None:
        # A re-check comes in before what it follows is sealed.
        with guards_lifted(Sheet):
            Sheet.objects.bulk_create(one.sheet for one in made)
        for one in made:
            before = {
                key: row for sheet in one.of.sheets for key, row in sheet.became.items()
            }
            one.became = {
                row["id"]: self._reading(row, one, before.get(row["carried_from_id"]))
                for row in one.like.readings
            }
            one.of.sheets.append(one)
        SheetReading.objects.bulk_create(
            reading for one in made for reading in one.became.values()
        )

    def _reading(
        self, row: Row, copy: SheetCopy, carried_from: SheetReading | None
    ) -> SheetReading:
        check = self.gauges.check_of(row["gauge_mode_id"])
        said = {
            "id": None,
            "sheet_id": copy.sheet.pk,
            "reading_id": any_id(self.rng),
            "by_id": self._person(row["by_id"], copy.of),
            "gauge_check_id": check and check.pk,
            "taken_at": row["taken_at"] + copy.of.shift,
            "received_at": row["received_at"] + copy.of.shift,
        }
        reading = SheetReading(**row | said)
        reading.carried_from = carried_from
        return reading

    def _rest_of(self, sheets: Sequence[SheetCopy]) -> None:
        parts: list[SheetPart] = []
        findings: list[Finding] = []
        strikes: list[Strike] = []
        for one in sheets:
            key = {"id": None, "sheet_id": one.sheet.pk}
            for row in one.like.parts:
                part = one.of.worn[row["position"]]
                parts.append(SheetPart(**row | key | {"part_id": part.pk}))
            findings += [Finding(**row | key) for row in one.like.findings]
            for row in one.like.strikes:
                reading = one.became[row["reading_id"]]
                said = {"id": None, "reading_id": reading.pk}
                strikes.append(Strike(**row | said | {"at": row["at"] + one.of.shift}))
        SheetPart.objects.bulk_create(parts)
        Finding.objects.bulk_create(findings)
        Strike.objects.bulk_create(strikes)

    def _seal(self, ordered: Sequence[SheetCopy]) -> None:
        previous = ""
        seals: list[Seal] = []
        texts: list[str] = []
        for sequence, one in enumerate(ordered, start=1):
            content = self._content(one, sequence)
            digest = chained_hash(previous, content)
            said = {
                "id": None,
                "sheet_id": one.sheet.pk,
                "night_id": self.night.pk,
                "sequence": sequence,
                "previous_sha256": previous,
                "sha256": digest,
                "sealed_at": one.sealed_at,
                "sealed_by_id": self._person(one.like.seal["sealed_by_id"], one.of),
            }
            seals.append(Seal(**one.like.seal | said))
            texts.append(content)
            previous = one.sha256 = digest
        Seal.objects.bulk_create(seals)
        SealContent.objects.bulk_create(
            SealContent.of(seal, text) for seal, text in zip(seals, texts, strict=True)
        )
        SealInputs.objects.bulk_create(
            SealInputs(**one.like.inputs | {"id": None, "seal_id": seal.pk})
            for one, seal in zip(ordered, seals, strict=True)
        )

    def _content(self, copy: SheetCopy, sequence: int) -> str:
        said = json.loads(copy.like.content, parse_float=_marked)
        of, shift = copy.of, copy.of.shift
        previous = None
        if copy.like.previous is not None:
            previous = of.sheets[copy.like.previous].sheet.number
        said |= {
            "number": copy.sheet.number,
            "supersedes": previous,
            "night": {
                "name": self.night.name,
                "date": self.night.date.isoformat(),
                "place": self.night.place,
            },
            "started_at": moved(said["started_at"], shift),
            "started_by": self._named(said["started_by"], of),
            "sealed_at": moved(said["sealed_at"], shift),
            "sealed_by": self._named(said["sealed_by"], of),
            "sequence": sequence,
        }
        owner = self.cast.named[of.car.owner_id]
        said["item"] |= {
            "car": of.car.car.number,
            "car_tag": of.car.car.tag,
            "car_name": of.car.car.name,
            "owner": owner,
            "driver": owner,
            "parts": [
                part | {"tag": of.worn[part["position"]].tag}
                for part in said["item"]["parts"]
            ],
        }
        for text, row in zip(said["readings"], copy.became.values(), strict=True):
            self._name_reading(text, row, of)
        for value in said["values"]:
            if value["gauge"]:
                mode, _ = value["gauge"]
                check = self.gauges.check_of(mode)
                value["gauge"] = [mode, check and check.pk]
            value["readings"] = [copy.became[key].pk for key in value["readings"]]
        return dumps(said)

    def _named(self, person: Row, copy: EntryCopy) -> Row:
        return self.cast.named[self._person(person["id"], copy)]

    def _name_reading(self, text: Row, row: SheetReading, copy: EntryCopy) -> None:
        text["id"] = dashed(str(row.reading_id))
        text["by"] = self._named(text["by"], copy)
        text["taken_at"] = row.taken_at.isoformat()
        text["received_at"] = row.received_at.isoformat()
        check = self.gauges.check_of(row.gauge_mode_id)
        if check is not None:
            at = check.taken_at.astimezone(dt.UTC)
            text["gauge"]["checked_at"] = at.isoformat()
            text["gauge"]["check"] = check.result
        if row.carried_from is not None:
            numbers = {one.sheet.pk: one.sheet.number for one in copy.sheets}
            text["carried_from"] = {
                "sheet": numbers[row.carried_from.sheet_id],
                "reading": dashed(str(row.carried_from.reading_id)),
            }

    def _learn(self, copy: SheetCopy, learned: Learned) -> None:
        position_of = {row["part_id"]: row["position"] for row in copy.like.parts}
        for row, readings in copy.like.learned:
            check = self.gauges.check_of(row["gauge_mode_id"])
            said = {
                "part_id": copy.of.worn[position_of[row["part_id"]]].pk,
                "by_id": self._person(row["by_id"], copy.of),
                "gauge_check_id": check and check.pk,
                "taken_at": row["taken_at"] + copy.of.shift,
                "source": f"sheet {copy.sheet.number}",
            }
            learned.tell(row | said, readings)


def dumps(content: Any) -> str:
    """
    Write canonical JSON (RFC 8785), quickly: most of a sheet's text is copied.

    Broken numbers were kept as they stood in a text that was canonical.
    """
    text = json.dumps(
        content, sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    return re.sub(r'"\\u0001([^"]*)"', r"\1", text)


def _marked(number: str) -> str:
    return f"\x01{number}"


def refuse_other_forms(templates: Templates) -> None:
    """Make sure that what is written quickly is what RFC 8785 asks."""
    for some in templates.values():
        for one in some:
            for sheet in one.sheets:
                content = json.loads(sheet.content, parse_float=_marked)
                assert dumps(content) == sheet.content


def moved(text: str, shift: dt.timedelta) -> str:
    """Move a moment that is written as ISO 8601 has it."""
    return (dt.datetime.fromisoformat(text) + shift).isoformat()


def dashed(text: str) -> str:
    """Write an id with its dashes."""
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"
