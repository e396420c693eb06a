"""Rows of parts, pairs, gauges, draws and rulebooks, many at once past the actions."""

from collections.abc import Callable

from inspection.models import Edition, RaceClass, RaceNight, Rulebook
from inventory.compute.measuring import (
    CheckKind,
    CheckResult,
    GaugeMode,
    Instrument,
)
from inventory.compute.numbers import Unit
from inventory.compute.stock import Move, PartKind, PartQuantity, PartState
from inventory.models import (
    Draw,
    DrawLot,
    Gauge,
    GaugeCheck,
    Pairing,
    Part,
    PartEstimate,
    PartMove,
    PartSet,
    SetMember,
    Tyre,
)
from inventory.models import GaugeMode as Mode
from tests import builders

AddRows = Callable[[int], object]


def tyres(count: int, state: PartState = PartState.IN_STOCK) -> list[Part]:
    """Put tyres into stock, each with its size, a drawer and, away, a holder."""
    first, by = Part.objects.count(), builders.make_admin()
    parts = Part.objects.bulk_create(
        Part(
            tag=f"Q{first + n}",
            kind=PartKind.TYRE,
            name=f"Tyre {first + n}",
            state=state,
            drawer=f"D{n}",
            holder=by if state == PartState.WITH_MEMBER else None,
            received_at=builders.NOW,
        )
        for n in range(count)
    )
    Tyre.objects.bulk_create(Tyre(part=part, compound="soft") for part in parts)
    PartMove.objects.bulk_create(
        PartMove(part=part, move=Move.HAND_OUT, at=builders.NOW, by=by, to_person=by)
        for part in parts
        if part.holder
    )
    PartEstimate.objects.bulk_create(
        PartEstimate(
            part=part,
            quantity=PartQuantity.TYRE_DIAMETER,
            value=18_000_000 + n,
            taken_at=builders.NOW,
            by=by,
        )
        for n, part in enumerate(parts)
    )
    return parts


def add_parts(_night: RaceNight) -> AddRows:
    return tyres


def add_lent(_night: RaceNight) -> AddRows:
    return lambda count: tyres(count, PartState.WITH_MEMBER)


def add_pairs(_night: RaceNight) -> AddRows:
    pairing = Pairing.objects.create(made_at=builders.NOW, by=builders.make_admin())

    def add(count: int) -> None:
        first, parts = PartSet.objects.count(), tyres(2 * count)
        sets = PartSet.objects.bulk_create(
            PartSet(
                tag=f"K{first + n}", kind=PartKind.TYRE, pairing=pairing, spread=10_000
            )
            for n in range(count)
        )
        SetMember.objects.bulk_create(
            SetMember(part_set=sets[n // 2], part=part, position=n % 2)
            for n, part in enumerate(parts)
        )

    return add


def add_gauges(_night: RaceNight) -> AddRows:
    by = builders.make_admin()

    def add(count: int) -> None:
        first = Gauge.objects.count()
        gauges = Gauge.objects.bulk_create(
            Gauge(name=f"Caliper {first + n}", instrument=Instrument.CALIPER)
            for n in range(count)
        )
        Mode.objects.bulk_create(
            Mode(
                gauge=gauge,
                mode=GaugeMode.OUTSIDE,
                unit=Unit.MILLIMETRE,
                resolution=10_000,
                max_permissible_error=20_000,
            )
            for gauge in gauges
        )
        GaugeCheck.objects.bulk_create(
            GaugeCheck(
                gauge=gauge,
                kind=CheckKind.MASTER,
                result=CheckResult.PASSED,
                taken_at=builders.NOW,
                by=by,
            )
            for gauge in gauges[::2]
        )

    return add


def add_draws(_night: RaceNight) -> AddRows:
    by = builders.make_admin()

    def add(count: int) -> None:
        draws = Draw.objects.bulk_create(
            Draw(name=f"Round {n}", seed="6 2 5", drawn_at=builders.NOW, by=by)
            for n in range(count)
        )
        motors = tyres(count)
        DrawLot.objects.bulk_create(
            DrawLot(draw=draw, position=0, driver="7", motor=motor)
            for draw, motor in zip(draws, motors, strict=True)
        )

    return add


def add_rulebooks(_night: RaceNight) -> AddRows:
    by = builders.make_admin()

    def add(count: int) -> None:
        first = Rulebook.objects.count()
        books = Rulebook.objects.bulk_create(
            Rulebook(name=f"Rules {first + n}") for n in range(count)
        )
        RaceClass.objects.bulk_create(
            RaceClass(name=f"Class of {book}", rulebook=book) for book in books
        )
        Edition.objects.bulk_create(
            Edition(
                rulebook=book,
                number=number,
                decision_rule="simple acceptance",
                created_at=builders.NOW,
                created_by=by,
            )
            for book in books
            for number in (1, 2)
        )

    return add
