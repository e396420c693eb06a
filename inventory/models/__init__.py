"""What the club owns and measures, as tables."""

from inventory.models.audit import AuditRow
from inventory.models.batches import Batch, BatchDraft, BatchPart
from inventory.models.club import Club
from inventory.models.draws import Draw, DrawLot
from inventory.models.gauges import Gauge, GaugeCheck, GaugeMode
from inventory.models.pairs import Pairing, PartSet, SetMember
from inventory.models.parts import Gear, Motor, Part, PartMove, Tyre
from inventory.models.people import Person, RoleGrant
from inventory.models.readings import PartEstimate, PartReading

__all__ = [
    "AuditRow",
    "Batch",
    "BatchDraft",
    "BatchPart",
    "Club",
    "Draw",
    "DrawLot",
    "Gauge",
    "GaugeCheck",
    "GaugeMode",
    "Gear",
    "Motor",
    "Pairing",
    "Part",
    "PartEstimate",
    "PartMove",
    "PartReading",
    "PartSet",
    "Person",
    "RoleGrant",
    "SetMember",
    "Tyre",
]
