"""Pairs and tyres as tables to be written to a file."""

from collections.abc import Sequence
from typing import Any

from inventory.compute.stock import PartQuantity, Section
from inventory.files.exports import ExportTable
from inventory.loaders.batches import MeasuredTyre
from inventory.views.paired_pieces import rejects_of, rest_of, sets_of
from inventory.views.pairing_answers import Answer

_Q, _S = PartQuantity, Section
#: The headings by which a reading is known when its file comes in again.
_HEADINGS = {
    (_Q.TYRE_DIAMETER, _S.INNER): "inner",
    (_Q.TYRE_DIAMETER, _S.MIDDLE): "diameter",
    (_Q.TYRE_DIAMETER, _S.OUTER): "outer",
    (_Q.TYRE_WIDTH, _S.MIDDLE): "width",
    (_Q.OUT_OF_ROUND, _S.MIDDLE): "out of round",
    (_Q.TAPER, _S.MIDDLE): "taper",
    (_Q.TYRE_HARDNESS, _S.MIDDLE): "hardness",
}


def pairs_table(answer: Answer) -> ExportTable:
    """Write pairs and rest as one table."""
    found, loaded = answer.found, answer.loaded
    sets = sets_of(
        loaded, found, first=0, last=len(found.members), track_mm=answer.track_mm
    )
    rows: list[list[Any]] = [
        [
            one.number,
            place + 1,
            tyre.tag,
            tyre.name,
            tyre.mm,
            one.difference_mm,
            round(one.percent, 1),
            one.drift_mm,
            one.group,
            "",
        ]
        for one in sets
        for place, tyre in enumerate(one.tyres)
    ]
    rest = [
        *rest_of(loaded, found, answer.asked.way),
        *rejects_of(loaded, found, answer.asked),
    ]
    nothing = (None, None, None)
    rows += [
        [
            *nothing[:2],
            one.tyre.tag,
            one.tyre.name,
            one.tyre.mm,
            *nothing,
            one.group,
            one.reason,
        ]
        for one in rest
    ]
    return ExportTable(
        name="pairs",
        headings=(
            "pair",
            "place",
            "tag",
            "name",
            "diameter mm",
            "difference mm",
            "chance %",
            "drift mm a metre",
            "group",
            "reason",
        ),
        rows=rows,
    )


def tyres_table(tyres: Sequence[MeasuredTyre]) -> ExportTable:
    """Write tyres with their readings, so that they come in again as they are."""
    counts: dict[tuple[PartQuantity, Section], int] = {}
    for tyre in tyres:
        for key, values in tyre.readings.items():
            if key not in _HEADINGS:
                continue  # a mass, a bore: no column of a batch
            counts[key] = max(counts.get(key, 0), len(values))
    columns = [
        (key, place)
        for key in sorted(
            counts, key=lambda key: (list(PartQuantity).index(key[0]), key)
        )
        for place in range(counts[key])
    ]
    rows: list[list[Any]] = [
        [
            tyre.tag,
            tyre.name,
            *tyre.words,
            tyre.drawer,
            *(_value(tyre.readings.get(key, ()), place) for key, place in columns),
        ]
        for tyre in tyres
    ]
    headings = ["tag", "name", "compound", "width code", "wheel", "drawer"]
    headings += [f"{_HEADINGS[key]} {place + 1}" for key, place in columns]
    return ExportTable(name="tyres", headings=headings, rows=rows)


def _value(values: Sequence[int], place: int) -> float | None:
    return values[place] / 1e6 if place < len(values) else None
