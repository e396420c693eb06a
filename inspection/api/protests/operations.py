"""Protests: raised, heard, measured again, ruled, appealed against."""

from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from inspection.actions.rulings.protests import (
    appeal,
    measure_again,
    name_hearer,
    raise_protest,
    rule_on_protest,
)
from inspection.api.protests.gives import MeasuredAgain, ProtestLine, ProtestShown
from inspection.api.protests.takes import (
    ClaimSaid,
    HearerSaid,
    ProtestRulingSaid,
    ProtestSaid,
)
from inspection.compute.night import ProtestRuling
from inspection.loaders.night.protests import load_protest, protests_seen_by
from inspection.models import Entry, Protest, Rule, Sheet
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.operations import Call, lists, makes, reads, writes
from inventory.api.foundation.rows import named_row, person_named
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope


@lists(ProtestLine, order=Order(columns={"at": "at", "id": "pk"}, usual="-at"))
def list_protests(call: Call) -> QuerySet[Protest]:
    """List the protests that whoever asks may open, the last first."""
    return protests_seen_by(call.person)


@reads(ProtestShown)
def show_protest(call: Call, protest_id: int) -> dict[str, Any]:
    """Tell of a protest: what it says, who hears it, what was ruled."""
    return _told(call, protest_id)


@makes(
    ProtestShown,
    asks=Ability.LOOK,
    scope=Scope.ALL,
    takes=ProtestSaid,
    example={"rule": 1, "claim": "The scale did not stand level."},
)
def protest_against(call: Call, entry_id: int) -> dict[str, Any]:
    """Protest against a car of the night, or the ruling on it."""
    entry = get_object_or_404(Entry, pk=entry_id)
    rule = named_row(
        Rule.objects.select_related("edition__rulebook"),
        call.said["rule"],
        field="rule",
    )
    made = raise_protest(entry.pk, rule, claim=call.said["claim"], act=call.act)
    return _told(call, made.pk)


@makes(MeasuredAgain, asks=Ability.LOOK, scope=Scope.ALL)
def measure_for_protest(call: Call, protest_id: int) -> Sheet:
    """Bring the car back on the block, to be read by other hands."""
    _found(call, protest_id)
    return measure_again(protest_id, act=call.act)


@writes(
    ProtestShown,
    asks=Ability.MANAGE_PEOPLE,
    scope=Scope.ALL,
    takes=HearerSaid,
    example={"person": 1},
)
def name_a_hearer(call: Call, protest_id: int) -> dict[str, Any]:
    """Name somebody to hear a protest in which the chief is concerned."""
    _found(call, protest_id)
    person = person_named(call.said["person"], field="person")
    name_hearer(protest_id, person, act=call.act)
    return _told(call, protest_id)


@writes(
    ProtestShown,
    asks=Ability.LOOK,
    scope=Scope.ALL,
    takes=ProtestRulingSaid,
    example={"ruling": "rejected", "reason": "It stood level when it was checked."},
)
def rule_on_a_protest(call: Call, protest_id: int) -> dict[str, Any]:
    """Uphold or reject a protest, or withdraw one's own."""
    _found(call, protest_id)
    ruling, reason = ProtestRuling(call.said["ruling"]), call.said["reason"]
    rule_on_protest(protest_id, ruling, reason=reason, act=call.act)
    return _told(call, protest_id)


@makes(
    ProtestShown,
    asks=Ability.LOOK,
    scope=Scope.ALL,
    takes=ClaimSaid,
    example={"claim": "It was measured on another block."},
)
def appeal_against(call: Call, protest_id: int) -> dict[str, Any]:
    """Appeal to the club against the ruling on a protest: a second one."""
    _found(call, protest_id)
    made = appeal(protest_id, claim=call.said["claim"], act=call.act)
    return _told(call, made.pk)


def _found(call: Call, protest_id: int) -> Protest:
    protest = protests_seen_by(call.person).filter(pk=protest_id).first()
    if protest is None:
        msg = f"There is no protest {protest_id} for you to see."
        raise Http404(msg)
    return protest


def _told(call: Call, protest_id: int) -> dict[str, Any]:
    loaded = load_protest(_found(call, protest_id))
    return {
        "protest": loaded.protest,
        "hearer": loaded.hearer,
        "measured": [one.sheet.number for one in loaded.measured],
        "may_hear": loaded.may_be_heard_by(call.person),
    }
