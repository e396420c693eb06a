"""Readings of parts off the car: one set is one estimate."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.gauges import refuse_gauge
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import NewPart, receive_part
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import (
    UNKNOWN_GAUGE,
    Gauge,
    estimate,
    estimate_round,
)
from inventory.compute.numbers import (
    TypedNumber,
    Unit,
    from_millionths,
    parse_reading,
    to_millionths,
)
from inventory.compute.stock import PART_SCALES, Least, PartKind, PartQuantity
from inventory.loaders.gauges import LoadedGauge, compute_gauge
from inventory.loaders.incoming.checked_rows import over_the_tips
from inventory.models import GaugeMode, Part, PartEstimate, PartReading

_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook part reading")


@transaction.atomic
def record_part_readings(
    part: Part,
    quantity: PartQuantity,
    texts: Sequence[str],
    *,
    gauge: LoadedGauge | None,
    act: Act,
) -> PartEstimate:
    """
    Record one person's readings of one quantity of a part, off one gauge.

    Without a gauge nobody knows with what they were read.

    Writes a PartEstimate (the one before is superseded) and a PartReading a
    text; audits ``part.measured``.  The same set sent twice is one.  Raises
    RefusedError for a text that is no value, no text at all, or a gauge that
    reads another unit or may not be used; then nothing is written.
    """
    if gauge is not None:
        refuse_gauge(gauge, unit=PART_SCALES[quantity].unit, of=f"“{quantity}”")
    made = _record(part, quantity, texts, gauge=gauge, act=act)
    record_event("part.measured", subject=part, act=act, quantity=quantity)
    return made


@dataclass(frozen=True, kw_only=True)
class TypedSizes:
    """
    Sizes of a part that comes in, as they are typed, by quantity.

    ``gauge`` read the lengths; None where nobody knows with what they were read.
    """

    texts: Mapping[PartQuantity, Sequence[str]]
    gauge: LoadedGauge | None = None


@transaction.atomic
def receive_measured(
    new: NewPart, sizes: TypedSizes, *, count: int, act: Act
) -> list[Part]:
    """
    Take parts that are alike into stock, each with the same sizes.

    Writes for each what `receive_part` writes, and for each size a PartEstimate and
    a PartReading a text; audits ``part.received``.  Raises RefusedError for a text
    that is no value, a gauge that may not be used, or one tag for several parts;
    then nothing is written.
    """
    if new.tag and count > 1:
        raise RefusedError(
            code="tag_of_several",
            sentence=_("Tag %(tag)s was typed for %(count)s parts; each needs its own.")
            % {"tag": new.tag, "count": count},
            field="tag",
        )
    if sizes.gauge is not None:
        refuse_gauge(sizes.gauge, unit=Unit.MILLIMETRE, of="a length")
    made = [receive_part(new, act=act) for _one in range(count)]
    for part in made:
        for quantity, texts in sizes.texts.items():
            is_length = PART_SCALES[quantity].unit is Unit.MILLIMETRE
            gauge = sizes.gauge if is_length else None
            _record(part, quantity, texts, gauge=gauge, act=act)
    return made


def _record(
    part: Part,
    quantity: PartQuantity,
    texts: Sequence[str],
    *,
    gauge: LoadedGauge | None,
    act: Act,
) -> PartEstimate:
    numbers = [_number(quantity, text) for text in texts]
    if not numbers:
        raise RefusedError(
            code="no_reading", sentence=_("Give at least one reading."), field="texts"
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
    return made


def _write_estimate(
    part: Part,
    quantity: PartQuantity,
    numbers: Sequence[TypedNumber],
    gauge: LoadedGauge | None,
    act: Act,
) -> PartEstimate:
    readings = [from_millionths(number.millionths) for number in numbers]
    on = _gauge_on(gauge.mode if gauge else None, quantity)
    if quantity is PartQuantity.TYRE_DIAMETER:
        estimated = estimate_round(readings, on)
    else:
        estimated = estimate(readings, on)
    if quantity is PartQuantity.GEAR_DIAMETER and part.kind == PartKind.GEAR:
        estimated = over_the_tips(estimated, part.gear.teeth)
    part.estimates.current().filter(quantity=quantity).update(superseded_at=act.at)
    return PartEstimate.objects.create(
        part=part,
        quantity=quantity,
        value=to_millionths(estimated.value),
        random=to_millionths(estimated.random),
        systematic=to_millionths(estimated.systematic),
        count=estimated.count,
        gauge_mode=gauge.mode if gauge else None,
        gauge_check_id=gauge.check_id if gauge else None,
        taken_at=act.at,
        by=act.by,
    )


def _gauge_on(mode: GaugeMode | None, quantity: PartQuantity) -> Gauge:
    scale = PART_SCALES[quantity]
    if mode is None:
        is_length = scale.unit is Unit.MILLIMETRE
        return UNKNOWN_GAUGE if is_length else Gauge(0.0, 0.0, scale.repeatability)
    return compute_gauge(mode, least_repeatability=scale.repeatability)


def _number(quantity: PartQuantity, text: str) -> TypedNumber:
    try:
        number = parse_reading(text, unit=PART_SCALES[quantity].unit)
    except ComputeError as error:
        raise RefusedError.because(error, field="texts") from error
    if number.millionths <= 0 and PART_SCALES[quantity].least is Least.ABOVE_ZERO:
        raise RefusedError(
            code="not_a_size",
            sentence=_("“%(text)s” is no size of a part; one above 0 is expected.")
            % {"text": text},
            field="texts",
        )
    return number


def _reading_id(part: Part, quantity: PartQuantity, act: Act, place: int) -> uuid.UUID:
    text = f"{part.tag}/{quantity}/{act.by.pk}/{act.at.isoformat()}/{place}"
    return uuid.uuid5(_IDS, text)
