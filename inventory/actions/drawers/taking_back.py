"""Parts handed back at the counter, with the size that was read of them there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act
from inventory.actions.pairing import take_back_set
from inventory.actions.readings import record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import take_back_part
from inventory.compute.stock import KINDS
from inventory.loaders.gauges import LoadedGauge
from inventory.models import Part, PartSet


@dataclass(frozen=True, kw_only=True)
class CounterReadings:
    """Readings of the main size by the part's tag, as typed, and their gauge."""

    texts: Mapping[str, Sequence[str]] = field(default_factory=dict)
    gauge: LoadedGauge | None = None


@transaction.atomic
def hand_back_part(
    part: Part, read: CounterReadings, *, act: Act, note: str = ""
) -> None:
    """
    Take a part back, and record the size that it has now.

    Writes what `take_back_part` and, where it was read, what `record_part_readings`
    writes; audits ``part.taken_back`` and ``part.measured``.  Raises RefusedError as
    they do; then nothing is written.
    """
    take_back_part(part, act=act, note=note)
    _record([part], read, act)


@transaction.atomic
def hand_back_set(part_set: PartSet, read: CounterReadings, *, act: Act) -> None:
    """
    Take a bag back, and record the sizes that its parts have now; it stays a bag.

    Writes what `take_back_set` and, of each that was read, what
    `record_part_readings` writes; audits ``pair.taken_back`` and ``part.measured``.
    Raises RefusedError as they do; then nothing is written.
    """
    take_back_set(part_set, act=act)
    members = part_set.members.select_related("part").order_by("position")
    _record([one.part for one in members], read, act)


def _record(parts: Sequence[Part], read: CounterReadings, act: Act) -> None:
    for part in parts:
        texts = read.texts.get(part.tag)
        if not texts:
            continue
        if read.gauge is None:
            raise RefusedError(
                code="no_gauge",
                sentence=_("“%(list)s” was read of %(tag)s; say with which gauge.")
                % {"list": " ".join(texts), "tag": part.tag},
                field="gauge",
            )
        main = KINDS[part.kind].main.quantity
        record_part_readings(part, main, texts, gauge=read.gauge, act=act)
