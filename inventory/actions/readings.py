"""Readings of parts off the car: one set is one estimate."""

import uuid
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from django.db import transaction

from inventory.actions.audit import Act, record_event
from inventory.actions.gauges import refuse_gauge
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.gearing import true_outside_diameter_mm
from inventory.compute.measuring import Estimate, Gauge, estimate
from inventory.compute.part_quantities import PART_SCALES
from inventory.compute.stock import PartKind, PartQuantity
from inventory.compute.units import TypedNumber, parse_reading
from inventory.loaders.gauges import LoadedGauge
from inventory.models import GaugeMode, Part, PartEstimate, PartReading

_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook part reading")
_MAY_BE_ZERO: Final = frozenset({PartQuantity.TAPER, PartQuantity.OUT_OF_ROUND})


@transaction.atomic
def record_part_readings(
    part: Part,
    quantity: PartQuantity,
    texts: Sequence[str],
    *,
    gauge: LoadedGauge,
    act: Act,
) -> PartEstimate:
    """
    Record one person's readings of one quantity of a part, off one gauge.

    Writes a PartEstimate (the one before is superseded) and a PartReading a
    text; audits ``part.measured``.  The same set sent twice is one.  Raises
    RefusedError for a text that is no value, no text at all, or a gauge that
    reads another unit or may not be used; then nothing is written.
    """
    refuse_gauge(gauge, unit=PART_SCALES[quantity].unit, of=f"“{quantity}”")
    numbers = [_number(quantity, text) for text in texts]
    if not numbers:
        raise RefusedError(
            code="no_reading", sentence="Give at least one reading.", field="texts"
        )
    ids = [_reading_id(part, quantity, act, place) for place in range(len(numbers))]
    before = PartReading.objects.filter(reading_id=ids[0]).first()
    if before is not None:
        return before.estimate
    made = _write_estimate(part, quantity, numbers, gauge, act)
    PartReading.objects.bulk_create(
        PartReading(
            estimate=made,
            reading_id=ids[place],
            value=number.millionths,
            text=text.strip(),
            unit_typed=number.mark,
            angle_index=place,
        )
        for place, (number, text) in enumerate(zip(numbers, texts, strict=True))
    )
    record_event("part.measured", subject=part, act=act, quantity=quantity)
    return made


def _write_estimate(
    part: Part,
    quantity: PartQuantity,
    numbers: Sequence[TypedNumber],
    gauge: LoadedGauge,
    act: Act,
) -> PartEstimate:
    said = estimate(
        [number.millionths / 1e6 for number in numbers],
        _gauge_on(gauge.mode, quantity),
    )
    if quantity is PartQuantity.GEAR_DIAMETER and part.kind == PartKind.GEAR:
        said = _over_the_tips(said, part.gear.teeth)
    part.estimates.current().filter(quantity=quantity).update(superseded_at=act.at)
    return PartEstimate.objects.create(
        part=part,
        quantity=quantity,
        value=round(said.value * 1e6),
        random=round(said.random * 1e6),
        systematic=round(said.systematic * 1e6),
        count=said.count,
        gauge_mode=gauge.mode,
        gauge_check_id=gauge.check_id,
        taken_at=act.at,
        by=act.by,
    )


def _gauge_on(mode: GaugeMode, quantity: PartQuantity) -> Gauge:
    return Gauge(
        mode.resolution / 1e6,
        mode.max_permissible_error / 1e6,
        max(mode.repeatability / 1e6, PART_SCALES[quantity].repeatability),
    )


def _over_the_tips(said: Estimate, teeth: int) -> Estimate:
    # Flat jaws over an odd count of teeth read short, by up to 2 % at 11 teeth.
    value = true_outside_diameter_mm(said.value, teeth)
    factor = value / said.value
    return replace(
        said,
        value=value,
        random=said.random * factor,
        systematic=said.systematic * factor,
    )


def _number(quantity: PartQuantity, text: str) -> TypedNumber:
    try:
        number = parse_reading(text, unit=PART_SCALES[quantity].unit)
    except ComputeError as error:
        raise RefusedError.because(error, field="texts") from error
    if number.millionths <= 0 and quantity not in _MAY_BE_ZERO:
        raise RefusedError(
            code="not_a_size",
            sentence=f"“{text}” is no size of a part; one above 0 is expected.",
            field="texts",
        )
    return number


def _reading_id(part: Part, quantity: PartQuantity, act: Act, place: int) -> uuid.UUID:
    said = f"{part.tag}/{quantity}/{act.by.pk}/{act.at.isoformat()}/{place}"
    return uuid.uuid5(_IDS, said)
