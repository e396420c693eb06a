"""Bags of tyres for tests: batches, drafts, pairs and draws, made by the actions."""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from inventory.actions.batches import (
    NewBatch,
    NewBench,
    measure_tyre,
    start_bench,
    take_batch,
)
from inventory.actions.drafts import NewDraft, read_draft, upload_draft
from inventory.actions.draws import NewDraw, draw_lots
from inventory.actions.pairing import NewPairing, NewSet, confirm_pairing
from inventory.compute.batches.rows import BatchReading, BatchRow
from inventory.compute.numbers.units import Unit, parse_reading
from inventory.compute.stock.words import PartKind, PartQuantity, Section
from inventory.loaders.batches import LoadedBag, load_bag
from inventory.loaders.gauges import LoadedGauge, load_gauges
from inventory.loaders.incoming.checked_rows import check_rows
from inventory.models import Batch, BatchDraft, Draw, GaugeMode, Pairing, Part, PartSet
from tests import builders
from tests.numbering import next_number


@dataclass(frozen=True, kw_only=True)
class Bags:
    """One of each thing that a page of batches and pairs shows."""

    batch: Batch
    bench: Batch
    draft: BatchDraft
    pairing: Pairing
    part_set: PartSet
    draw: Draw


def gauge() -> LoadedGauge:
    """Give a caliper that may be used now."""
    return loaded(builders.make_gauge(at=builders.now()))


def loaded(mode: GaugeMode) -> LoadedGauge:
    return load_gauges(builders.now(), pk=mode.pk)[0]


def reading(
    text: str,
    quantity: PartQuantity = PartQuantity.TYRE_DIAMETER,
    section: Section = Section.MIDDLE,
    unit: Unit = Unit.MILLIMETRE,
) -> BatchReading:
    number = parse_reading(text, unit=unit)
    return BatchReading(
        quantity=quantity,
        section=section,
        millionths=number.millionths,
        text=number.text,
        mark=number.mark,
    )


def row(
    *texts: str,
    tag: str = "",
    number: int = 1,
    words: dict[str, str] | None = None,
) -> BatchRow:
    """Give a tyre by its diameters."""
    return BatchRow(
        number=number, tag=tag, readings=tuple(map(reading, texts)), words=words or {}
    )


def make_batch(
    *sizes: str, words: dict[str, str] | None = None, name: str = ""
) -> Batch:
    """Take tyres of these sizes in; three readings a tyre, all alike."""
    # A name of its own for each, or the next batch alike would be the same file.
    rows = [
        row(size, size, size, number=number, words={"name": unique("tyre")})
        for number, size in enumerate(sizes, 1)
    ]
    return take_rows(rows, words=words, name=name)


def unique(word: str) -> str:
    return f"{word} {next_number()}"


def take_rows(
    rows: Sequence[BatchRow],
    *,
    words: dict[str, str] | None = None,
    name: str = "",
    said: LoadedGauge | None = None,
    kind: PartKind = PartKind.TYRE,
) -> Batch:
    using = said or gauge()
    return take_batch(
        NewBatch(
            name=name or "A bag",
            gauge=using,
            words=words or {},
            kind=kind,
            # Bags of tests are of the sizes that a test is about.
            is_another=True,
        ),
        check_rows(rows, kind=kind, gauge=using),
        act=builders.act(),
    )


def make_bench(*, reading_count: int = 3, at_edges: bool = False) -> Batch:
    new = NewBench(
        name="Bench", gauge=gauge(), reading_count=reading_count, at_edges=at_edges
    )
    return start_bench(new, act=builders.act())


def measure(bench: Batch, *sizes: str) -> None:
    """Take tyres in at the caliper, one reading each."""
    using = gauge()
    for size in sizes:
        measure_tyre(
            bench, row(size), sent_id=uuid.uuid4(), gauge=using, act=builders.act()
        )


def make_draft(text: str = "Tag,Ø\nA1,18.42\nA2,18.44\n") -> BatchDraft:
    """Upload a table and read it."""
    act = builders.act()
    new = NewDraft(name="A file", content=text.encode(), gauge=gauge())
    made = upload_draft(new, act=act)
    read_draft(made.pk, act=act)
    return BatchDraft.objects.get(pk=made.pk)


def pair_up(
    bag: LoadedBag, pairs: Iterable[tuple[int, ...]], batch: Batch | None = None
) -> Pairing:
    """Confirm pairs of a bag by the positions of their tyres."""
    size = bag.bag.size_um
    sets = [
        NewSet(
            part_ids=[bag.part_ids[place] for place in pair],
            spread=abs(int(size[pair[-1]] - size[pair[0]])) * 1000,
        )
        for pair in pairs
    ]
    return confirm_pairing(NewPairing(sets=sets, batch=batch), act=builders.act())


def make_pairing(pairs: int) -> Pairing:
    """Confirm so many pairs at once."""
    batch = make_batch(*["18.40"] * 2 * pairs)
    twos = [(2 * pair, 2 * pair + 1) for pair in range(pairs)]
    return pair_up(load_bag(batch), twos, batch)


def make_set() -> PartSet:
    batch = make_batch("18.40", "18.41")
    return pair_up(load_bag(batch), [(0, 1)], batch).sets.get()


def make_motors(*figures: tuple[str, str]) -> list[Part]:
    """Take motors in, each with its speed and its resistance."""
    rows = [
        BatchRow(
            number=number,
            tag="",
            words={"name": unique("motor")},
            readings=(
                reading(speed, PartQuantity.MOTOR_SPEED, unit=Unit.RPM),
                reading(ohm, PartQuantity.MOTOR_RESISTANCE, unit=Unit.OHM),
            ),
        )
        for number, (speed, ohm) in enumerate(figures, 1)
    ]
    batch = take_rows(rows, kind=PartKind.MOTOR)
    return [one.part for one in batch.members.select_related("part")]


def make_draw(drivers: Sequence[str] = ("7", "12"), seed: str = "6 2 5") -> Draw:
    motors = make_motors(*((f"2{n:02d}00", "2.1") for n in range(len(drivers) + 1)))
    new = NewDraw(
        name="Draw",
        seed=seed,
        drivers=drivers,
        motor_tags=[motor.tag for motor in motors],
    )
    return draw_lots(new, act=builders.act())


def make_bags() -> Bags:
    """Make one of each."""
    part_set = make_set()
    return Bags(
        batch=make_batch("18.42", "18.44"),
        bench=make_bench(),
        draft=make_draft(),
        pairing=part_set.pairing,
        part_set=part_set,
        draw=make_draw(),
    )
