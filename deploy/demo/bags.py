"""The demo club's bags: a bulk buy of tyres, a bench half measured, hand-out motors."""

import datetime as dt
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from deploy.demo.bench import Bench
from inventory.actions.audit import Act
from inventory.actions.batches import (
    NewBatch,
    NewBench,
    measure_tyre,
    start_bench,
    take_batch,
)
from inventory.actions.draws import (
    NewDraw,
    draw_lots,
    hand_out_lots,
    take_back_lots,
)
from inventory.actions.pairing import (
    NewPairing,
    NewSet,
    confirm_pairing,
    hand_out_set,
)
from inventory.compute.batches import BatchReading, BatchRow, BatchSource
from inventory.compute.measuring import Instrument
from inventory.compute.numbers import parse_reading
from inventory.compute.pairing import Asked, GroupBy, RejectLimits, pair_bag
from inventory.compute.stock import PART_SCALES, PartKind, PartQuantity, Section
from inventory.files.columns import guess_layout
from inventory.files.rows import read_rows
from inventory.files.tables import read_table
from inventory.loaders.batches import load_bag
from inventory.loaders.incoming.checked_rows import check_rows
from inventory.models import Batch, Person

TYRES: Final = Path(__file__).with_name("autumn_bag.csv")
#: Firm tyres are wanted first: those are paired already.
CONFIRMED: Final = Asked(
    tolerance_um=20,
    group_by=(GroupBy.COMPOUND,),
    limits=RejectLimits(low_mm=8, high_mm=32, out_of_round_mm=0.1, reading_count=3),
)
FIRM: Final = "firm"
#: On the bench, four measured so far, three readings each.
ON_BENCH: Final = (
    ("17.82", "17.84", "17.83"),
    ("17.86", "17.86", "17.85"),
    ("17.79", "17.81", "17.80"),
    ("17.83", "17.85", "17.84"),
)
#: Speed and resistance of the hand-out motors.
HAND_OUT: Final = (
    ("20140", "2.212"),
    ("20310", "2.198"),
    ("19870", "2.241"),
    ("20220", "2.206"),
    ("20060", "2.219"),
    ("20480", "2.174"),
    ("19640", "2.268"),
    ("20170", "2.209"),
    ("20090", "2.223"),
    ("19950", "2.237"),
)
SEED: Final = "4 17 2 33 8"


def take_autumn_bag(
    bench: Bench, *, keeper: Person, member: Person, at: dt.datetime
) -> None:
    """Take the bulk buy in from its file, pair the firm ones, hand one pair out."""
    batch = _take_file(bench, act=Act(by=keeper, at=at))
    loaded = load_bag(batch)
    paired = pair_bag(loaded.bag, CONFIRMED)
    compounds = loaded.bag.words[GroupBy.COMPOUND]
    sets = [
        NewSet(
            part_ids=[loaded.part_ids[place] for place in pair],
            spread=int(spread) * 1000,
            drawer="A3 firm pairs",
        )
        for pair, spread in zip(
            paired.members.tolist(), paired.difference_um.tolist(), strict=True
        )
        if compounds[pair[0]] == FIRM
    ]
    pairing = confirm_pairing(
        NewPairing(batch=batch, sets=sets),
        act=Act(by=keeper, at=at + dt.timedelta(hours=1)),
    )
    later = Act(by=keeper, at=at + dt.timedelta(days=9))
    hand_out_set(pairing.sets.order_by("pk")[0], member, act=later)


def _take_file(bench: Bench, *, act: Act) -> Batch:
    table = read_table(TYRES.read_bytes())
    rows = read_rows(table, guess_layout(table, PartKind.TYRE), PartKind.TYRE).rows
    gauge = bench.loaded(bench.mode(Instrument.CALIPER), act.at)
    new = NewBatch(name="Autumn bag", file_name=TYRES.name, gauge=gauge)
    return take_batch(new, check_rows(rows, kind=PartKind.TYRE, gauge=gauge), act=act)


def start_front_bag(bench: Bench, *, keeper: Person, at: dt.datetime) -> None:
    """Start on a bag at the caliper, and be called away."""
    gauge = bench.loaded(bench.mode(Instrument.CALIPER), at)
    words = {"compound": "soft", "width_code": "9"}
    batch = start_bench(
        NewBench(name="Loose fronts", gauge=gauge, words=words),
        act=Act(by=keeper, at=at),
    )
    for number, texts in enumerate(ON_BENCH, 1):
        readings = [(text, PartQuantity.TYRE_DIAMETER) for text in texts]
        measure_tyre(
            batch,
            _row(number, readings),
            sent_id=uuid.uuid5(uuid.NAMESPACE_OID, f"front {number}"),
            gauge=gauge,
            act=Act(by=keeper, at=at + dt.timedelta(minutes=number)),
        )


def bring_hand_out_motors(*, keeper: Person, at: dt.datetime) -> list[str]:
    """Take the hand-out motors in; give their tags."""
    rows = [
        _row(
            number,
            [
                (speed, PartQuantity.MOTOR_SPEED),
                (resistance, PartQuantity.MOTOR_RESISTANCE),
            ],
        )
        for number, (speed, resistance) in enumerate(HAND_OUT, 1)
    ]
    batch = take_batch(
        NewBatch(
            name="Hand-out motors",
            kind=PartKind.MOTOR,
            source=BatchSource.PASTED,
            words={"family": "hand-out", "drawer": "C2 hand-out"},
        ),
        check_rows(rows, kind=PartKind.MOTOR, gauge=None),
        act=Act(by=keeper, at=at),
    )
    return list(batch.members.values_list("part__tag", flat=True))


def draw_motors(
    tags: Sequence[str], *, drivers: Sequence[str], keeper: Person, at: dt.datetime
) -> None:
    """Draw the motors for one race, hand them out and take them back."""
    new = NewDraw(name="Hand-out race", seed=SEED, drivers=drivers, motor_tags=tags)
    draw = draw_lots(new, act=Act(by=keeper, at=at))
    hand_out_lots(draw, act=Act(by=keeper, at=at + dt.timedelta(minutes=5)))
    take_back_lots(draw, act=Act(by=keeper, at=at + dt.timedelta(hours=2)))


def _row(number: int, readings: Sequence[tuple[str, PartQuantity]]) -> BatchRow:
    return BatchRow(
        number=number,
        tag="",
        readings=tuple(_reading(text, quantity) for text, quantity in readings),
    )


def _reading(text: str, quantity: PartQuantity) -> BatchReading:
    parsed = parse_reading(text, unit=PART_SCALES[quantity].unit)
    return BatchReading(
        quantity=quantity,
        section=Section.MIDDLE,
        millionths=parsed.millionths,
        text=parsed.text,
        mark=parsed.mark,
    )
