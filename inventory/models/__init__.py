"""What the club owns and measures, as tables."""

from inventory.models.audit import AuditRow
from inventory.models.club import Club
from inventory.models.gauges import Gauge, GaugeCheck, GaugeMode
from inventory.models.parts import Gear, Motor, Part, PartMove, Tyre
from inventory.models.people import Person, RoleGrant
from inventory.models.readings import PartEstimate, PartReading

__all__ = [
    "AuditRow",
    "Club",
    "Gauge",
    "GaugeCheck",
    "GaugeMode",
    "Gear",
    "Motor",
    "Part",
    "PartEstimate",
    "PartMove",
    "PartReading",
    "Person",
    "RoleGrant",
    "Tyre",
]
