"""Race nights: planned, changed, opened, closed."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from inspection.actions.night.plans import (
    NightPlan,
    call_first,
    change_night,
    close_list,
)
from inspection.actions.race_nights import close_night, open_night, plan_night
from inspection.actions.seal_checks import settle_night
from inspection.api.nights.filters import NightFilter
from inspection.api.nights.gives import BlockShown, ClassShown, Night
from inspection.api.nights.takes import CalledFirst, NightSaid
from inspection.loaders.night.nights import nights_to_show
from inspection.models import Block, Edition, RaceClass, RaceNight
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.operations import (
    Call,
    lists,
    makes,
    reads,
    reads_all,
    writes,
)
from inventory.api.foundation.rows import named_row
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope

_RUNS: Mapping[str, Any] = {"asks": Ability.RUN_NIGHTS, "scope": Scope.ALL}


@lists(
    Night,
    order=Order(columns={"date": "date", "id": "pk"}, usual="-date"),
    filters=NightFilter,
)
def list_nights(call: Call) -> QuerySet[RaceNight]:
    """List the nights, the last first."""
    return nights_to_show()


@reads(Night)
def show_night(call: Call, night_id: int) -> RaceNight:
    """Tell of one night, with the edition that each class races by."""
    return _shown(night_id)


@makes(
    Night,
    takes=NightSaid,
    example={
        "name": "Third round",
        "date": "2026-05-08",
        "place": "The hall",
        "classes": [{"race_class": 1, "edition": 1}],
    },
    **_RUNS,
)
def plan_a_night(call: Call) -> RaceNight:
    """Set up a race night with the edition that each class races by."""
    facts = _facts(call.said)
    return _shown(plan_night(**facts, act=call.act).pk)


def _lock(call: Call, night_id: int) -> None:
    list(RaceNight.objects.select_for_update().filter(pk=night_id))


@writes(
    Night,
    takes=NightSaid,
    guarded_by=show_night,
    locks=_lock,
    example={
        "name": "Third round, moved",
        "date": "2026-05-15",
        "classes": [{"race_class": 1, "edition": 1}],
    },
    **_RUNS,
)
def change_a_night(call: Call, night_id: int) -> RaceNight:
    """Change a night that has not been opened."""
    plan = NightPlan(**_facts(call.said))
    return _shown(change_night(_night(night_id), plan, act=call.act).pk)


@writes(Night, **_RUNS)
def open_a_night(call: Call, night_id: int) -> RaceNight:
    """Open a night; from now on cars go on the block."""
    open_night(_night(night_id), act=call.act)
    return _shown(night_id)


@writes(Night, **_RUNS)
def close_a_night(call: Call, night_id: int) -> RaceNight:
    """Close a night; no car goes on the block any more."""
    closed = close_night(_night(night_id), act=call.act)
    settle_night(closed, act=call.act)
    return _shown(night_id)


@writes(Night, **_RUNS)
def close_the_list(call: Call, night_id: int) -> RaceNight:
    """Close the list for members now; the desk enters late cars."""
    close_list(_night(night_id), act=call.act)
    return _shown(night_id)


@writes(
    Night,
    asks=Ability.INSPECT_CARS,
    scope=Scope.ALL,
    takes=CalledFirst,
    example={"race_class": None},
)
def call_class_first(call: Call, night_id: int) -> RaceNight:
    """Call a class to the blocks before the others."""
    key = call.said["race_class"]
    chosen = (
        None
        if key is None
        else named_row(RaceClass.objects.all(), key, field="race_class")
    )
    call_first(_night(night_id), chosen, act=call.act)
    return _shown(night_id)


@reads_all(BlockShown)
def list_blocks(call: Call) -> QuerySet[Block]:
    """List the blocks in use."""
    blocks = Block.objects.filter(is_in_use=True)
    return blocks.select_related("measured_by").order_by("name")


@reads_all(ClassShown)
def list_classes(call: Call) -> QuerySet[RaceClass]:
    """List the classes, each with its rulebook."""
    return RaceClass.objects.select_related("rulebook")


def _night(night_id: int) -> RaceNight:
    return get_object_or_404(RaceNight, pk=night_id)


def _shown(night_id: int) -> RaceNight:
    return get_object_or_404(nights_to_show(), pk=night_id)


def _facts(body: Mapping[str, Any]) -> dict[str, Any]:
    published = Edition.objects.published().select_related("rulebook")
    classes = RaceClass.objects.all()
    editions = {
        named_row(classes, one["race_class"], field="classes"): named_row(
            published, one["edition"], field="classes"
        )
        for one in body["classes"]
    }
    names = ("name", "date", "place", "list_closes_at")
    return {name: body[name] for name in names} | {"editions": editions}
