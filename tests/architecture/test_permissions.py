"""
Who may open which address: every route, every role, GET and POST.

The rows are declared here and the addresses are read from the URL
configuration: a route without a row fails, and so does a row without a route.
What a page shows is held to the same: every link and every button that a role
is shown leads to an answer, not to a refusal.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from html.parser import HTMLParser
from http import HTTPStatus
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from django.conf import settings
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from inspection.actions.moving.lists import bring_list
from inspection.actions.night.blocks import add_block
from inspection.actions.night.notices import hang_notice
from inspection.actions.notes.motor_seals import put_on_motor_seal
from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.actions.rulings.editions import move_edition
from inspection.actions.rulings.protests import raise_protest
from inspection.actions.seals import seal_sheet
from inspection.compute.lists import ListKind
from inspection.compute.night import Decision, NoticeKind
from inspection.compute.rulebooks import RuleText
from inspection.models import Edition, HeldCar, JudgedAgain, Protest, Sheet
from inventory.actions.people.families import declare_family
from inventory.actions.people.links import invite
from inventory.compute.measuring import CheckResult
from inventory.compute.roles import Ability, Role
from inventory.models import FamilyTie, GaugeCheck, GaugeMode, Person, Stocktake
from tests.builders import (
    NOW,
    act,
    check,
    make_edition,
    make_gauge,
    make_part,
    make_person,
    make_sheet,
    picture,
    read,
)
from tests.builders import (
    act as builders_act,
)
from tests.inventory.bags import Bags, make_bags

# Who may what is the same on any database; once is enough.
pytestmark = pytest.mark.sqlite

ANYONE = frozenset(Role)
SCRUTINEERS = frozenset({Role.SCRUTINEER, Role.CHIEF_SCRUTINEER})
CHIEF = frozenset({Role.CHIEF_SCRUTINEER})
KEEPERS = frozenset({Role.PARTS_KEEPER})
ADMINS = frozenset({Role.ADMIN})
GAUGERS = SCRUTINEERS | KEEPERS
SETTLERS = ADMINS | CHIEF
RESERVERS = frozenset(
    {
        Role.MEMBER,
        Role.SCRUTINEER,
        Role.CHIEF_SCRUTINEER,
        Role.PARTS_KEEPER,
    }
)
#: Those who see every car and sheet; a member sees only their own.
SEES_ALL = frozenset({Role.SCRUTINEER, Role.CHIEF_SCRUTINEER, Role.ADMIN})
#: Those who open every car's page, and those who change what is on any car.
SEES_CARS = SEES_ALL | KEEPERS
FITTERS = SCRUTINEERS | KEEPERS


@dataclass(frozen=True)
class Club:
    """A small club: one car on the block, and a person of each role."""

    people: dict[Role, Person]
    owner: Person
    entry_id: int
    night_id: int
    block_id: int
    number: str
    doubtful: str
    failed_check: int
    judged_id: int
    protest_id: int
    held_id: int
    notice_id: int
    car: str
    tag: str
    gauge_mode: GaugeMode
    bags: Bags
    draft: Edition
    tie: FamilyTie
    note_id: int
    motor_seal_id: int
    list_draft_id: int


@dataclass(frozen=True)
class Row:
    """Who may GET and POST an address; None: the method is not offered."""

    get: frozenset[Role] | None = None
    post: frozenset[Role] | None = None
    args: Callable[[Club], list[object]] = lambda _: []
    hides: bool = field(default=False)


def sheet(club: Club) -> list[object]:
    return [club.number]


def doubt(club: Club) -> list[object]:
    return [club.doubtful, club.failed_check]


def protest(club: Club) -> list[object]:
    return [club.protest_id]


def held(club: Club) -> list[object]:
    return [club.held_id]


def judged_again(club: Club) -> list[object]:
    return [club.judged_id]


def entry(club: Club) -> list[object]:
    return [club.entry_id]


def night(club: Club) -> list[object]:
    return [club.night_id]


def note(club: Club) -> list[object]:
    return [club.number, club.note_id]


def motor_seal(club: Club) -> list[object]:
    return [club.motor_seal_id]


def tie(club: Club) -> list[object]:
    return [club.tie.pk]


def car(club: Club) -> list[object]:
    return [club.car]


def place(club: Club) -> list[object]:
    return [club.car, "rear-left"]


def axle(club: Club) -> list[object]:
    return [club.car, "rear"]


def part(club: Club) -> list[object]:
    return [club.tag]


def gauge(club: Club) -> list[object]:
    return [club.gauge_mode.gauge_id]


def gauge_check(club: Club) -> list[object]:
    return [GaugeCheck.objects.filter(gauge=club.gauge_mode.gauge).latest("pk").pk]


def gauge_mode(club: Club) -> list[object]:
    return [club.gauge_mode.pk]


def kind(club: Club) -> list[object]:
    return ["tyre"]


def reading(club: Club) -> list[object]:
    return [club.number, 1]


def draft(club: Club) -> list[object]:
    return [club.draft.pk]


def two_editions(club: Club) -> list[object]:
    return [club.draft.pk, club.draft.pk]


def rulebook(club: Club) -> list[object]:
    return [club.draft.rulebook_id]


def rule(club: Club) -> list[object]:
    return [club.draft.rules.values_list("pk", flat=True)[0]]


def batch(club: Club) -> list[object]:
    return [str(club.bags.batch.pk)]


def bench(club: Club) -> list[object]:
    return [club.bags.bench.pk]


def file_draft(club: Club) -> list[object]:
    return [club.bags.draft.pk]


def pairs_file(club: Club) -> list[object]:
    return [str(club.bags.batch.pk), "csv"]


def stocktake(club: Club) -> list[object]:
    started = {"by": club.owner, "started_at": timezone.now()}
    made, _ = Stocktake.objects.get_or_create(
        drawer="A", closed_at=None, defaults=started
    )
    return [made.pk]


def stocktake_file(club: Club) -> list[object]:
    return [*stocktake(club), "csv"]


def file_form(club: Club) -> list[object]:
    return ["csv"]


def pairing(club: Club) -> list[object]:
    return [club.bags.pairing.pk]


def pair(club: Club) -> list[object]:
    return [club.bags.part_set.tag]


def starting_book(club: Club) -> list[object]:
    return ["saloons"]


def block(club: Club) -> list[object]:
    return [club.block_id]


def owner(club: Club) -> list[object]:
    return [club.owner.pk]


def owners_role(club: Club) -> list[object]:
    return [club.owner.pk, "member"]


def handed(club: Club) -> list[object]:
    return [invite("Ida Penn", [Role.MEMBER], act=builders_act()).link.pk]


def notice(club: Club) -> list[object]:
    return [club.notice_id]


def list_kind(club: Club) -> list[object]:
    return ["people"]


def kept_backup(club: Club) -> list[object]:
    return ["feelerbook-20260508T180000Z-daily.zip"]


def list_file(club: Club) -> list[object]:
    return ["people", "csv"]


def list_draft(club: Club) -> list[object]:
    return [club.list_draft_id]


def draw(club: Club) -> list[object]:
    return [club.bags.draw.pk]


MATRIX: dict[str, Row] = {
    "inspection:tonight": Row(get=ANYONE),
    "inspection:put_on_block": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=entry),
    "inspection:queue_again": Row(post=SCRUTINEERS, args=entry),
    "inspection:take_off": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=entry),
    "inspection:undo_withdrawal": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=entry),
    "inspection:withdraw": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=entry),
    "inspection:reopen": Row(get=CHIEF, post=CHIEF, args=entry),
    "inspection:sheet": Row(get=SEES_ALL, args=sheet, hides=True),
    "inspection:sheet_file": Row(get=SEES_ALL, args=sheet, hides=True),
    "inspection:block": Row(get=SCRUTINEERS, args=sheet),
    "inspection:as_stored": Row(post=SCRUTINEERS, args=sheet),
    "inspection:take_over": Row(post=SCRUTINEERS, args=sheet),
    "inspection:take_over_code": Row(get=SCRUTINEERS, post=SCRUTINEERS),
    "inspection:add_reading": Row(post=SCRUTINEERS, args=sheet),
    "inspection:add_looks": Row(post=SCRUTINEERS, args=sheet),
    "inspection:strike": Row(post=SCRUTINEERS, args=reading),
    "inspection:held_cars": Row(get=ANYONE, args=night),
    "inspection:hold_car": Row(post=SCRUTINEERS, args=night),
    "inspection:release_car": Row(post=SCRUTINEERS, args=held),
    "inspection:plan_sample": Row(post=CHIEF, args=night),
    "inspection:draw_sample": Row(post=CHIEF, args=night),
    "inspection:take_sample_back": Row(post=CHIEF, args=night),
    "inspection:protest_against": Row(get=ANYONE, post=ANYONE, args=entry),
    "inspection:protests": Row(get=ANYONE, args=night),
    "inspection:protest_time": Row(post=CHIEF, args=night),
    "inspection:protest": Row(get=SEES_ALL, args=protest, hides=True),
    "inspection:measure_protest": Row(post=SEES_ALL, args=protest, hides=True),
    "inspection:name_hearer": Row(post=ADMINS, args=protest),
    "inspection:rule_on_protest": Row(post=SEES_ALL, args=protest, hides=True),
    "inspection:appeal": Row(post=SEES_ALL, args=protest, hides=True),
    "inspection:rule_on_edition": Row(get=CHIEF, post=CHIEF, args=judged_again),
    "inspection:move_edition": Row(get=CHIEF, post=CHIEF, args=night),
    "inspection:rule_on_doubt": Row(get=CHIEF, post=CHIEF, args=doubt),
    "inspection:strike_in_doubt": Row(post=SCRUTINEERS, args=doubt),
    "inspection:note": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=sheet),
    "inspection:note_picture": Row(get=SEES_ALL, args=note, hides=True),
    "inspection:motor_seals": Row(get=SEES_CARS, args=car, hides=True),
    "inspection:put_motor_seal": Row(post=SCRUTINEERS, args=car),
    "inspection:break_motor_seal": Row(
        get=SCRUTINEERS, post=SCRUTINEERS, args=motor_seal
    ),
    "inspection:seal": Row(post=SCRUTINEERS, args=sheet),
    "inspection:reserve_fit": Row(post=RESERVERS),
    "inspection:cars_for_part": Row(get=ANYONE, args=part),
    "inspection:save_jig": Row(post=ANYONE),
    "inspection:remedies": Row(get=SEES_ALL, args=sheet, hides=True),
    "inspection:hand_out_remedy": Row(post=SCRUTINEERS, args=sheet),
    "inspection:gearing": Row(get=SEES_CARS, args=car, hides=True),
    "inspection:cars": Row(get=ANYONE),
    "inspection:my_cars": Row(get=ANYONE),
    "inspection:car": Row(get=SEES_CARS, args=car, hides=True),
    "inspection:place": Row(get=FITTERS, post=FITTERS, args=place, hides=True),
    "inspection:own_part": Row(get=FITTERS, post=FITTERS, args=place, hides=True),
    "inspection:part_sizes": Row(get=FITTERS, post=FITTERS, args=place, hides=True),
    "inspection:part_off": Row(post=FITTERS, args=place, hides=True),
    "inspection:pair_on": Row(get=FITTERS, post=FITTERS, args=axle, hides=True),
    "inspection:swap_sides": Row(post=FITTERS, args=axle, hides=True),
    "inspection:onto_car": Row(get=ANYONE, post=ANYONE, args=part),
    "inventory:parts": Row(get=ANYONE),
    "inventory:export_parts": Row(get=ANYONE, args=file_form),
    "inventory:labels": Row(get=ANYONE),
    "inventory:new_part": Row(get=KEEPERS, post=KEEPERS, args=kind),
    "inventory:new_spare": Row(get=ANYONE, post=ANYONE, args=kind),
    "inventory:share": Row(post=ANYONE, args=part),
    "inventory:part": Row(get=ANYONE, args=part),
    "inventory:reserve": Row(post=RESERVERS, args=part),
    "inventory:release": Row(post=RESERVERS, args=part),
    "inventory:hand_out": Row(post=KEEPERS, args=part),
    "inventory:take_back": Row(post=KEEPERS, args=part),
    "inventory:retire": Row(post=KEEPERS, args=part),
    "inventory:correct": Row(post=KEEPERS, args=part),
    "inventory:strike_reading": Row(post=KEEPERS, args=part),
    "inventory:restore": Row(post=KEEPERS, args=part),
    "inventory:measure": Row(post=KEEPERS, args=part),
    "inventory:lent": Row(get=ANYONE),
    "inventory:export_gauges": Row(get=ANYONE, args=file_form),
    "inventory:export_draws": Row(get=ANYONE, args=file_form),
    "inventory:export_people": Row(get=ADMINS, args=file_form),
    "inventory:export_lent": Row(get=ANYONE, args=file_form),
    "inventory:drawers": Row(get=ANYONE),
    "inventory:export_drawers": Row(get=ANYONE, args=file_form),
    "inventory:drawer": Row(get=ANYONE),
    "inventory:lay_parts": Row(get=KEEPERS, post=KEEPERS),
    "inventory:start_stocktake": Row(post=KEEPERS),
    "inventory:stocktake": Row(get=ANYONE, args=stocktake),
    "inventory:tick_stocktake": Row(post=KEEPERS, args=stocktake),
    "inventory:drop_stocktake": Row(post=KEEPERS, args=stocktake),
    "inventory:lay_surplus": Row(post=KEEPERS, args=stocktake),
    "inventory:export_stocktake": Row(get=ANYONE, args=stocktake_file),
    "inventory:pairing": Row(get=ANYONE),
    "inventory:new_batch": Row(get=KEEPERS),
    "inventory:upload_batch": Row(post=KEEPERS),
    "inventory:paste_batch": Row(post=KEEPERS),
    "inventory:start_bench": Row(post=KEEPERS),
    "inventory:draft": Row(get=KEEPERS, args=file_draft),
    "inventory:read_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:mend_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:wrong_rows": Row(get=KEEPERS, args=file_draft),
    "inventory:draft_columns": Row(post=KEEPERS, args=file_draft),
    "inventory:draft_faults": Row(get=KEEPERS, args=file_draft),
    "inventory:take_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:drop_draft": Row(post=KEEPERS, args=file_draft),
    "inventory:bench": Row(get=KEEPERS, post=KEEPERS, args=bench),
    "inventory:drop_last": Row(post=KEEPERS, args=bench),
    "inventory:batch": Row(get=ANYONE, args=batch),
    "inventory:confirm_pairs": Row(post=KEEPERS, args=batch),
    "inventory:export_pairs": Row(get=ANYONE, args=pairs_file),
    "inventory:confirmed": Row(get=ANYONE, args=pairing),
    "inventory:undo_pairs": Row(post=KEEPERS, args=pairing),
    "inventory:pairs": Row(get=ANYONE),
    "inventory:export_sets": Row(get=ANYONE, args=file_form),
    "inventory:pair_labels": Row(get=ANYONE),
    "inventory:pair": Row(get=ANYONE, args=pair),
    "inventory:split_pair": Row(post=KEEPERS, args=pair),
    "inventory:hand_out_pair": Row(post=KEEPERS, args=pair),
    "inventory:take_back_pair": Row(post=KEEPERS, args=pair),
    "inventory:draws": Row(get=ANYONE),
    "inventory:new_draw": Row(get=KEEPERS, post=KEEPERS),
    "inventory:draw": Row(get=ANYONE, args=draw),
    "inventory:hand_out_draw": Row(post=KEEPERS, args=draw),
    "inventory:take_back_draw": Row(post=KEEPERS, args=draw),
    "inventory:gauges": Row(get=ANYONE),
    "inventory:new_gauge": Row(get=GAUGERS, post=GAUGERS),
    "inventory:usual_gauges": Row(get=GAUGERS, post=GAUGERS),
    "inventory:gauge": Row(get=ANYONE, args=gauge),
    "inventory:check": Row(get=GAUGERS, post=GAUGERS, args=gauge_mode),
    "inventory:new_mode": Row(get=GAUGERS, post=GAUGERS, args=gauge),
    "inventory:gauge_figures": Row(get=GAUGERS, post=GAUGERS, args=gauge_mode),
    "inventory:strike_check": Row(get=KEEPERS, post=KEEPERS, args=gauge_check),
    "inventory:study": Row(get=GAUGERS, post=GAUGERS, args=gauge_mode),
    "inventory:adopt": Row(post=GAUGERS, args=gauge_mode),
    "inspection:nights": Row(get=ANYONE),
    "inspection:night": Row(get=ANYONE, args=night),
    "inspection:edit_night": Row(get=CHIEF, post=CHIEF, args=night),
    "inspection:close_list": Row(post=CHIEF, args=night),
    "inspection:call_first": Row(post=SCRUTINEERS, args=night),
    "inspection:fill_night": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=night),
    "inspection:own_car": Row(get=ANYONE, post=ANYONE, args=night),
    "inspection:desk": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=night),
    "inspection:not_here": Row(post=SCRUTINEERS, args=entry),
    "inspection:report": Row(get=ANYONE, args=night),
    "inspection:report_file": Row(get=ANYONE, args=night),
    "inspection:give_report": Row(post=CHIEF, args=night),
    "inspection:own_back": Row(get=ANYONE, post=ANYONE, args=entry),
    "inspection:mine": Row(get=ANYONE),
    "inspection:notices": Row(get=ANYONE, post=ANYONE),
    "inspection:take_down": Row(post=CHIEF, args=notice),
    "inspection:how_we_measure": Row(get=ANYONE),
    "inspection:blank_sheets": Row(get=ANYONE, args=night),
    "inspection:prints": Row(get=SEES_ALL, args=night),
    "inspection:new_night": Row(get=CHIEF, post=CHIEF),
    "inspection:open_night": Row(post=CHIEF, args=night),
    "inspection:close_night": Row(get=CHIEF, post=CHIEF, args=night),
    "inspection:enter_car": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=night),
    "inspection:new_car": Row(get=ANYONE, post=ANYONE),
    "inspection:sizes": Row(get=SEES_CARS, post=SEES_CARS, args=car, hides=True),
    "inspection:practice": Row(get=SEES_CARS, args=car, hides=True),
    "inspection:dry_run": Row(get=SCRUTINEERS, args=night),
    "inspection:edit_car": Row(get=SCRUTINEERS, post=SCRUTINEERS, args=car, hides=True),
    "inspection:hands": Row(get=SCRUTINEERS, args=car, hides=True),
    "inspection:car_as_stored": Row(post=FITTERS, args=car),
    "inspection:lend_car": Row(post=SCRUTINEERS, args=car, hides=True),
    "inspection:car_back": Row(post=SCRUTINEERS, args=car, hides=True),
    "inspection:sell_car": Row(post=SCRUTINEERS, args=car, hides=True),
    "inspection:retire_car": Row(post=SCRUTINEERS, args=car, hides=True),
    "inspection:race_again": Row(post=SCRUTINEERS, args=car, hides=True),
    "inventory:club": Row(get=SETTLERS, post=SETTLERS),
    "inspection:boxes": Row(get=SCRUTINEERS, post=SCRUTINEERS),
    "inspection:put_box": Row(post=SCRUTINEERS, args=lambda _: [1]),
    "inspection:take_box_off": Row(post=SCRUTINEERS, args=lambda _: [1]),
    "inspection:end_box": Row(post=SCRUTINEERS, args=lambda _: [1]),
    "inspection:blocks": Row(get=SETTLERS, post=SETTLERS),
    "inspection:protest_times": Row(get=SETTLERS, post=SETTLERS),
    "inspection:change_block": Row(get=SETTLERS, post=SETTLERS, args=block),
    "inspection:remove_block": Row(post=SETTLERS, args=block),
    "inventory:people": Row(get=ADMINS),
    "inventory:new_person": Row(get=ADMINS, post=ADMINS),
    "inventory:family": Row(get=ADMINS, post=ADMINS),
    "inventory:no_family": Row(post=ADMINS, args=tie),
    "inventory:invite": Row(get=ADMINS, post=ADMINS),
    "inventory:handed_link": Row(get=ADMINS, args=handed),
    "inventory:withdraw_link": Row(post=ADMINS, args=handed),
    "inventory:person": Row(get=ADMINS, args=owner),
    "inventory:give_role": Row(post=ADMINS, args=owner),
    "inventory:take_role": Row(post=ADMINS, args=owners_role),
    "inventory:switch_off": Row(post=ADMINS, args=owner),
    "inventory:switch_on": Row(post=ADMINS, args=owner),
    "inventory:password_link": Row(post=ADMINS, args=owner),
    "inventory:without_factor": Row(post=ADMINS, args=owner),
    "inventory:end_token_of": Row(post=ADMINS, args=lambda club: [club.owner.pk, 1]),
    "inventory:personal_data": Row(get=ADMINS, args=owner),
    "inventory:erase_person": Row(get=ADMINS, post=ADMINS, args=owner),
    "inspection:old_people": Row(get=ADMINS, post=ADMINS),
    "inventory:own_account": Row(get=ANYONE),
    "inventory:tokens": Row(get=ANYONE, post=ANYONE),
    "inventory:end_token": Row(post=ANYONE, args=lambda _: [1]),
    "api:docs": Row(get=ANYONE),
    "inventory:second_factor": Row(get=ANYONE, post=ANYONE),
    "inventory:end_others": Row(post=ANYONE),
    "inventory:end_session": Row(post=ANYONE, args=lambda _: ["0123456789ab"]),
    "inventory:own_data": Row(get=ANYONE),
    "inventory:erase_own": Row(get=ANYONE, post=ANYONE),
    "inspection:rulebooks": Row(get=ANYONE),
    "inspection:new_rulebook": Row(get=CHIEF, post=CHIEF),
    "inspection:starting_rulebooks": Row(get=CHIEF),
    "inspection:starting_rulebook": Row(get=CHIEF, post=CHIEF, args=starting_book),
    "inspection:import_rulebook": Row(get=CHIEF, post=CHIEF),
    "inspection:rulebook_schema": Row(get=ANYONE),
    "inspection:quantity": Row(get=ANYONE),
    "inspection:add_class": Row(post=CHIEF, args=rulebook),
    "inspection:edition": Row(get=ANYONE, args=draft),
    "inspection:edition_file": Row(get=ANYONE, args=draft),
    "inspection:edition_settings": Row(get=CHIEF, post=CHIEF, args=draft),
    "inspection:publish": Row(get=CHIEF, post=CHIEF, args=draft),
    "inspection:discard": Row(post=CHIEF, args=draft),
    "inspection:new_draft": Row(post=CHIEF, args=draft),
    "inspection:side_by_side": Row(get=ANYONE, args=two_editions),
    "inspection:trial": Row(get=CHIEF, args=draft),
    "inspection:new_rule": Row(get=CHIEF, post=CHIEF, args=draft),
    "inspection:rule": Row(get=CHIEF, post=CHIEF, args=rule),
    "inspection:move_rule": Row(post=CHIEF, args=rule),
    "inspection:remove_rule": Row(post=CHIEF, args=rule),
    "inspection:limit_trial": Row(get=CHIEF, args=rule),
    "inspection:keep_limit": Row(post=CHIEF, args=rule),
    "inspection:season": Row(get=ANYONE),
    "inspection:seals": Row(get=SEES_ALL),
    "inspection:search": Row(get=ANYONE),
    "inspection:moving": Row(get=ADMINS),
    "inspection:take_out": Row(post=ADMINS),
    "inspection:new_list": Row(get=ADMINS, post=ADMINS, args=list_kind),
    "inspection:list_template": Row(get=ADMINS, args=list_file),
    "inspection:list_draft": Row(get=ADMINS, args=list_draft),
    "inspection:list_columns": Row(post=ADMINS, args=list_draft),
    "inspection:list_wrong_rows": Row(get=ADMINS, args=list_draft),
    "inspection:take_list": Row(post=ADMINS, args=list_draft),
    "inspection:drop_list": Row(post=ADMINS, args=list_draft),
    "inspection:night_list": Row(get=ANYONE, args=night),
    "worker": Row(get=SCRUTINEERS),
    "shell": Row(get=SCRUTINEERS),
    "backups": Row(get=ADMINS),
    "back_up": Row(post=ADMINS),
    "take_backup": Row(post=ADMINS, args=kept_backup),
    "own_club": Row(get=ADMINS, post=ADMINS),
    "sign_out": Row(post=ANYONE),
    "password_change": Row(get=ANYONE, post=ANYONE),
    "password_changed": Row(get=ANYONE),
}
REFUSED = {HTTPStatus.FORBIDDEN, HTTPStatus.NOT_FOUND, HTTPStatus.METHOD_NOT_ALLOWED}


def routes(
    patterns: list[URLPattern | URLResolver] | None = None, namespace: str = ""
) -> Iterator[str]:
    for one in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(one, URLResolver):
            inside = f"{namespace}{one.namespace}:" if one.namespace else namespace
            yield from routes(one.url_patterns, inside)
        elif one.name:
            yield f"{namespace}{one.name}"


def _sealed_in_doubt() -> tuple[Sheet, GaugeCheck]:
    """Give a sealed sheet, and the check that its gauge failed afterwards."""
    sheet, caliper = make_sheet(), make_gauge()
    read(sheet, "tyre_diameter_rear_left", "17.1", gauge=caliper)
    read(sheet, "tyre_diameter_rear_right", "17.1", gauge=caliper)
    seal_sheet(sheet.number, decision=Decision.SENT_BACK, act=act(minutes=3))
    check(caliper.gauge, CheckResult.FAILED, at=NOW + timedelta(minutes=4))
    return sheet, caliper.gauge.checks.filter(result=CheckResult.FAILED).get()


def _judged_otherwise(sealed: Sheet) -> JudgedAgain:
    """Move the sealed sheet's class to an edition that would let its car pass."""
    entry = sealed.entry
    weight = RuleText(
        number="1", sentence="Weight", quantity="tyre_diameter_rear", lower=1_000_000
    )
    move_edition(
        entry.night,
        entry.race_class,
        make_edition([weight]),
        reason="the limit was misprinted",
        act=act(minutes=5),
    )
    return JudgedAgain.objects.get()


def _protested(sealed: Sheet) -> Protest:
    return raise_protest(
        sealed.entry_id,
        sealed.edition.rules.all()[0],
        claim="the scale was not level",
        act=act(make_person(Role.SCRUTINEER), minutes=6),
    )


def _held(sealed: Sheet) -> HeldCar:
    return HeldCar.objects.create(
        entry=sealed.entry, by=make_person(), at=NOW, reason="drawn"
    )


@pytest.fixture
def club(db: None) -> Club:
    return make_club()


def make_club() -> Club:
    people = {role: make_person(role) for role in Role}
    record = make_sheet(by=people[Role.SCRUTINEER])
    doubtful, failed = _sealed_in_doubt()
    return Club(
        people=people,
        owner=record.entry.car.owner,
        entry_id=record.entry_id,
        night_id=record.entry.night_id,
        block_id=add_block("Window", act=builders_act()).pk,
        number=record.number,
        doubtful=doubtful.number,
        failed_check=failed.pk,
        judged_id=_judged_otherwise(doubtful).pk,
        protest_id=_protested(doubtful).pk,
        held_id=_held(doubtful).pk,
        notice_id=hang_notice(
            "Doors shut at ten.", kind=NoticeKind.NOTICE, act=builders_act()
        ).pk,
        car=record.entry.car.tag,
        tag=make_part().tag,
        gauge_mode=make_gauge(),
        bags=make_bags(),
        draft=make_edition(published=False),
        note_id=note_on_sheet(
            record.number,
            "a loose screw",
            # As wide as a phone takes it: no page may grow with it.
            picture=picture(size=(1600, 1200)),
            act=act(),
        ).pk,
        motor_seal_id=put_on_motor_seal(record.entry.car, "M 1", act=act()).pk,
        tie=declare_family(make_person(), make_person(), act=act()),
        list_draft_id=bring_list(
            ListKind.PEOPLE, b"Name\nBo Lark\n", file_name="people.csv", act=act()
        ).pk,
    )


def of_the_api() -> set[str]:
    """Name the routes of the API, whose operations have a matrix of their own."""
    return {name for name in routes() if name.startswith("api:")} - {"api:docs"}


def test_matrix_has_a_row_for_every_route_and_no_other() -> None:
    # What is a row of the API's own matrix is not one of the pages'.
    found = {name for name in routes() if name not in of_the_api()}
    assert found - settings.PUBLIC_ROUTES == set(MATRIX)
    assert len(settings.PUBLIC_ROUTES) <= 8


def ask(client: Client, method: str, address: str) -> HttpResponse:
    """Ask once, and take back what the answer wrote."""
    with transaction.atomic():
        answer: HttpResponse = getattr(client, method)(address)
        transaction.set_rollback(True)
    return answer


def asked_of(club: Club) -> Iterator[tuple[str, Row, str, str]]:
    """Give each route's name and row, a method and the address."""
    for name, row in MATRIX.items():
        for method in ("get", "post"):
            yield name, row, method, reverse(name, args=row.args(club))


def test_stranger_is_sent_to_sign_in(club: Club) -> None:
    wrong = []
    for name, _, method, address in asked_of(club):
        answer = ask(Client(), method, address)
        sent = answer.headers.get("Location", "").startswith(reverse("sign_in"))
        if answer.status_code != HTTPStatus.FOUND or not sent:
            wrong.append((name, method, answer.status_code))
    assert not wrong


def expected(row: Row, method: str, role: Role) -> HTTPStatus | None:
    """Give the refusal that a role meets, or None where it is let in."""
    allowed = row.get if method == "get" else row.post
    if allowed is None:
        return HTTPStatus.METHOD_NOT_ALLOWED
    if role in allowed:
        return None
    # What a person may not know of is not there for them.
    return HTTPStatus.NOT_FOUND if row.hides else HTTPStatus.FORBIDDEN


@pytest.mark.parametrize("name", ["inspection:sheet", "inspection:car"])
def test_owner_sees_what_is_theirs(club: Club, name: str) -> None:
    client = Client()
    client.force_login(club.owner)
    answer = client.get(reverse(name, args=MATRIX[name].args(club)))
    assert answer.status_code == HTTPStatus.OK


def test_every_view_of_the_apps_says_whom_it_is_for() -> None:
    def views(patterns: list[URLPattern | URLResolver]) -> Iterator[tuple[str, object]]:
        for one in patterns:
            if isinstance(one, URLResolver):
                yield from views(one.url_patterns)
            else:
                yield str(one.name), one.callback

    own = [
        (name, view)
        for name, view in views(get_resolver().url_patterns)
        if str(getattr(view, "__module__", "")).startswith(("inspection", "inventory"))
    ]
    assert own
    assert not [name for name, view in own if not hasattr(view, "asks_for")]


class Offers(HTMLParser):
    """What a page offers its reader: where links lead, and where forms are sent."""

    def __init__(self, at: str) -> None:
        super().__init__()
        self.at = at
        self.found: set[tuple[str, str]] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "a" and "href" in said:
            self._add("get", said["href"])
        if tag == "form":
            self._add(said.get("method", "get").lower(), said.get("action", ""))
        for method in ("get", "post"):
            if f"hx-{method}" in said:
                self._add(method, said[f"hx-{method}"])
        if "formaction" in said:
            self._add("post", said["formaction"])

    def _add(self, method: str, to: str) -> None:
        address = urlsplit(urljoin(self.at, to))
        if not address.netloc:
            query = f"?{address.query}" if address.query else ""
            self.found.add((method, f"{address.path}{query}"))


def offers_of(answer: HttpResponse, at: str) -> set[tuple[str, str]]:
    page = Offers(at)
    page.feed(answer.content.decode())
    return page.found


def is_page(answer: HttpResponse) -> bool:
    return answer.headers.get("Content-Type", "").startswith("text/html")


def walk(
    person: Person, addresses: list[str]
) -> dict[tuple[str, str], tuple[str, HTTPStatus]]:
    """
    Open the addresses and all they link to; press every button met.

    Gives, by method and address, where it was offered first and what came of it.
    """
    met: dict[tuple[str, str], tuple[str, HTTPStatus]] = {}
    client = Client()
    client.force_login(person)
    cookies = client.cookies
    to_do = [("", "get", address) for address in addresses]
    while to_do:
        where, method, address = to_do.pop()
        # Filters and page numbers of one list are the same page here.
        if (method, address.partition("?")[0]) in met:
            continue
        client = Client()
        client.cookies.load(cookies)
        answer = ask(client, method, address)
        met[method, address.partition("?")[0]] = (where, HTTPStatus(answer.status_code))
        if method == "get" and answer.status_code == HTTPStatus.OK and is_page(answer):
            to_do += [(address, *offer) for offer in offers_of(answer, address)]
    return met


@pytest.mark.parametrize("role", Role)
def test_role_gets_what_its_rows_say_and_is_shown_no_more(
    club: Club, role: Role
) -> None:
    """What was met on the walk is not asked again: each page is made once."""
    person = club.people[role]
    opened = [
        reverse(name, args=row.args(club))
        for name, row in MATRIX.items()
        if row.get is not None and role in row.get
    ]
    met = walk(person, opened)
    assert len(met) > len(opened)
    shown = [
        (where, method, address, status)
        for (method, address), (where, status) in met.items()
        if status in REFUSED
    ]
    assert not shown
    signed_in = Client()
    signed_in.force_login(person)
    wrong = []
    for name, row, method, address in asked_of(club):
        # A client of its own: signing out is one of the routes.
        client = Client()
        client.cookies.load(signed_in.cookies)
        found = met.get((method, address))
        status = found[1] if found else ask(client, method, address).status_code
        refusal = expected(row, method, role)
        is_met = status not in REFUSED if refusal is None else status == refusal
        if not is_met:
            wrong.append((name, method, status, refusal))
    assert not wrong


def test_what_an_owner_is_shown_leads_to_no_refusal(club: Club) -> None:
    names = ["inspection:sheet", "inspection:car", "inspection:tonight"]
    opened = [reverse(name, args=MATRIX[name].args(club)) for name in names]
    met = walk(club.owner, opened)
    assert len(met) > len(opened)
    assert not [one for one in met.items() if one[1][1] in REFUSED]


def test_the_walk_meets_a_button_that_leads_nowhere(club: Club) -> None:
    """The walk itself: a member at the chief's button is seen to be refused."""
    close = reverse("inspection:close_night", args=[club.night_id])
    met = walk(club.people[Role.MEMBER], [close])
    assert met["get", close] == ("", HTTPStatus.FORBIDDEN)
    answer = HttpResponse(f'<form method="post" action="{close}"></form><a href="b">')
    assert offers_of(answer, "/a") == {("post", close), ("get", "/b")}


TEMPLATES = [
    path
    for app in ("deploy", "inspection", "inventory")
    for path in (Path(settings.BASE_DIR) / app).rglob("*.html")
]


def test_templates_ask_for_abilities_that_there_are() -> None:
    asked = {
        (path.name, word)
        for path in TEMPLATES
        for word in re.findall(r"\bmay\.(\w+)", path.read_text())
    }
    known = {ability.name.lower() for ability in Ability}
    assert asked
    assert not [(name, word) for name, word in asked if word not in known]


def test_no_template_names_a_role() -> None:
    quoted = re.compile("|".join(f"[\"']{re.escape(role)}[\"']" for role in Role))
    in_tags = re.compile(r"{%.*?%}", re.DOTALL)
    wrong = [
        path.name
        for path in TEMPLATES
        if any(quoted.search(tag) for tag in in_tags.findall(path.read_text()))
    ]
    assert TEMPLATES
    assert not wrong
