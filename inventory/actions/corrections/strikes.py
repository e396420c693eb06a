"""Readings of parts that no longer count, and what the others make."""

import uuid
from collections.abc import Iterator, Sequence
from typing import Final

from django.db import transaction
from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given
from inventory.compute.batches import BatchReading, BatchRow
from inventory.compute.stock import PartKind, PartQuantity
from inventory.loaders.incoming.checked_rows import estimates_of
from inventory.models import Part, PartEstimate, PartReading, ReadingStrike

_IDS: Final = uuid.uuid5(uuid.NAMESPACE_OID, "feelerbook restated reading")
_FORMS: Final = (PartQuantity.OUT_OF_ROUND, PartQuantity.TAPER)


@transaction.atomic
def strike_part_reading(reading: PartReading, *, reason: str, act: Act) -> None:
    """
    Strike a reading of a part; those that are left count.

    Writes a ReadingStrike, the end of the estimate, and one of the readings that are
    left, or of the newest set before them; audits ``part.reading_struck``.  Raises
    RefusedError without a reason, or where the reading no longer counts.
    """
    why = reason_given(reason)
    # Locked before it is looked at: who strikes or measures at once waits here.
    part = Part.objects.select_for_update().get(pk=reading.estimate.part_id)
    estimate = PartEstimate.objects.get(pk=reading.estimate_id)
    if estimate.superseded_at is not None:
        raise RefusedError(
            code="counts_no_more",
            sentence=_(
                "“%(reading)s” of part %(tag)s does not count any more; look at it "
                "again."
            )
            % {"reading": reading.text, "tag": part.tag},
            field="reading",
        )
    ReadingStrike.objects.create(reading=reading, reason=why, at=act.at, by=act.by)
    left = list(estimate.readings.exclude(pk=reading.pk))
    if left:
        restate(estimate, left, act=act)
    else:
        _end(estimate, act)
        before = _set_before(estimate)
        if before is not None:
            restate(before, list(before.readings.filter(strike=None)), act=act)
    record_event(
        "part.reading_struck",
        subject=part,
        act=act,
        quantity=estimate.quantity,
        text=reading.text,
        reason=why,
    )


def restate(
    estimate: PartEstimate, readings: Sequence[PartReading], *, act: Act
) -> None:
    """
    Make an estimate anew of some of its readings; part of a caller's transaction.

    Writes a PartEstimate with copies of them, and of a tyre's diameters what they say
    of its form; the current ones are superseded.
    """
    # Read anew: its teeth may have been put right a moment ago.
    part = Part.objects.get(pk=estimate.part_id)
    row = BatchRow(
        number=1,
        tag=part.tag,
        words={"teeth": str(part.gear.teeth)} if part.kind == PartKind.GEAR else {},
        readings=tuple(
            BatchReading(
                quantity=estimate.quantity,
                section=one.section,
                millionths=one.value,
                text=one.text,
                mark=one.unit_typed,
            )
            for one in readings
        ),
    )
    _end(estimate, act)
    for restated in estimates_of([row], part.kind, estimate.gauge_mode):
        is_form = restated.quantity != estimate.quantity
        if (
            is_form
            and part.estimates.current().filter(quantity=restated.quantity).exists()
        ):
            continue  # it was measured itself
        made = PartEstimate.objects.create(
            part=part,
            quantity=restated.quantity,
            value=restated.value,
            random=restated.random,
            systematic=restated.systematic,
            count=restated.count,
            gauge_mode_id=estimate.gauge_mode_id,
            gauge_check_id=estimate.gauge_check_id,
            taken_at=estimate.taken_at,
            by_id=estimate.by_id,
            source=estimate.source,
            restates=None if is_form else estimate,
        )
        if not is_form:
            PartReading.objects.bulk_create(_copies(readings, made))


def _end(estimate: PartEstimate, act: Act) -> None:
    """End what is current of a quantity, and the form that its diameters made."""
    current = PartEstimate.objects.current().filter(part=estimate.part_id)
    current.filter(quantity=estimate.quantity).update(superseded_at=act.at)
    if estimate.quantity == PartQuantity.TYRE_DIAMETER:
        current.filter(quantity__in=_FORMS, readings=None).update(superseded_at=act.at)


def _set_before(struck: PartEstimate) -> PartEstimate | None:
    """Find the newest set before one of which all was struck."""
    counts = PartReading.objects.filter(estimate=OuterRef("pk"), strike=None)
    return (
        PartEstimate.objects.filter(
            Exists(counts),
            part=struck.part_id,
            quantity=struck.quantity,
            restated=None,
        )
        .exclude(pk=struck.pk)
        .order_by("-taken_at", "-pk")
        .first()
    )


def _copies(
    readings: Sequence[PartReading], estimate: PartEstimate
) -> Iterator[PartReading]:
    for one in readings:
        yield PartReading(
            estimate=estimate,
            reading_id=uuid.uuid5(_IDS, f"{one.reading_id}/{estimate.pk}"),
            value=one.value,
            text=one.text,
            unit_typed=one.unit_typed,
            section=one.section,
            angle_index=one.angle_index,
        )
