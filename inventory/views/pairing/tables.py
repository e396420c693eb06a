"""Pairs and what is left over, to be written to a file."""

import json
from typing import Any

from inventory.compute.pairing import PairingWay
from inventory.files.exports import ExportTable
from inventory.forms.answers import Answer
from inventory.views.pairing.pieces import (
    ShownRest,
    ShownTyre,
    rejects_of,
    rest_of,
    sets_of,
)


def pairs_table(answer: Answer) -> ExportTable:
    """Write pairs and rest as one table."""
    paired, loaded = answer.found, answer.loaded
    is_features = answer.asked.way is PairingWay.FEATURES
    sets = sets_of(
        loaded, paired, first=0, last=len(paired.members), track_mm=answer.track_mm
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
        *rest_of(loaded, paired, answer.asked.way),
        *rejects_of(loaded, paired, answer.asked),
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
            # Of several measures the chance speaks of one.
            "chance % of diameter" if is_features else "chance %",
            "drift mm a metre",
            "group",
            "reason",
        ),
        rows=rows,
    )


def pairs_json(answer: Answer) -> bytes:
    """Write the pairs as objects, each with its tyres; and the rest beside them."""
    paired, loaded = answer.found, answer.loaded
    is_sets = answer.asked.way is PairingWay.SETS
    sets = sets_of(
        loaded, paired, first=0, last=len(paired.members), track_mm=answer.track_mm
    )
    content = {
        "way": answer.asked.way.value,
        "tolerance_mm": answer.asked.tolerance_um / 1000,
        "sets" if is_sets else "pairs": [
            {
                "number": one.number,
                "tyres": [_tyre_json(tyre) for tyre in one.tyres],
                "difference_mm": one.difference_mm,
                "chance_percent": round(one.percent, 1),
                "drift_mm_per_metre": one.drift_mm,
                "group": one.group,
            }
            for one in sets
        ],
        "more_pairs_at_most": paired.more_pairs,
        "left_over": [
            _rest_json(one) for one in rest_of(loaded, paired, answer.asked.way)
        ],
        "rejected": [
            _rest_json(one) for one in rejects_of(loaded, paired, answer.asked)
        ],
    }
    return (json.dumps(content, ensure_ascii=False, indent=2) + "\n").encode()


def _tyre_json(tyre: ShownTyre) -> dict[str, Any]:
    return {"tag": tyre.tag, "name": tyre.name, "diameter_mm": tyre.mm}


def _rest_json(one: ShownRest) -> dict[str, Any]:
    return _tyre_json(one.tyre) | {"group": one.group, "reason": one.reason}
