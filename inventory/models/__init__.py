"""What the club owns and measures, as tables."""

from inventory.models.api.tokens import ApiToken, ChangeNumber, KeptAnswer
from inventory.models.audit import AuditRow
from inventory.models.batches import Batch, BatchDraft, BatchPart, TableShape
from inventory.models.beginnings import folded_forms
from inventory.models.club import Beginning, Club
from inventory.models.corrections import FactChange, ReadingStrike
from inventory.models.draws import Draw, DrawLot
from inventory.models.gauges import CheckStrike, Gauge, GaugeCheck, GaugeMode
from inventory.models.handed_links import HandedLink, InvitedRole
from inventory.models.open_sessions import OpenSession
from inventory.models.pairs import Pairing, PartSet, SetMember
from inventory.models.parts import Gear, Motor, Part, PartMove, Tyre, facts_model
from inventory.models.people import FamilyTie, Person, RoleGrant, TakeOverCode
from inventory.models.readings import PartEstimate, PartReading
from inventory.models.stocktakes import Stocktake, StocktakeLine, StocktakeTick

__all__ = [
    "ApiToken",
    "AuditRow",
    "Batch",
    "BatchDraft",
    "BatchPart",
    "Beginning",
    "ChangeNumber",
    "CheckStrike",
    "Club",
    "Draw",
    "DrawLot",
    "FactChange",
    "FamilyTie",
    "Gauge",
    "GaugeCheck",
    "GaugeMode",
    "Gear",
    "HandedLink",
    "InvitedRole",
    "KeptAnswer",
    "Motor",
    "OpenSession",
    "Pairing",
    "Part",
    "PartEstimate",
    "PartMove",
    "PartReading",
    "PartSet",
    "Person",
    "ReadingStrike",
    "RoleGrant",
    "SetMember",
    "Stocktake",
    "StocktakeLine",
    "StocktakeTick",
    "TableShape",
    "TakeOverCode",
    "Tyre",
    "facts_model",
    "folded_forms",
]
