"""
A whole night in any order: exactly the agreed moves, and what is always true.

Hypothesis draws what people do; a list of moves written out by hand says what must
become of each car, and after every step the tables are held against what is true of
them, by queries and hashes of the test's own.
"""

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from inspection.actions.cars import CarFacts, change_car, confirm_on_block
from inspection.actions.notes.motor_seals import break_motor_seal, put_on_motor_seal
from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.actions.race_nights import (
    call_back,
    close_night,
    take_off_block,
    undo_withdrawal,
    withdraw_entry,
)
from inspection.actions.readings import (
    TypedReading,
    strike_doubtful,
    strike_reading,
    take_reading,
)
from inspection.actions.rulings.protests import raise_protest, rule_on_protest
from inspection.actions.rulings.questions import rule_on_doubt
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import reopen_car, start_sheet
from inspection.compute.night import Decision, ProtestRuling, Ruling
from inspection.compute.quantities import FrontCarrier, Layout
from inspection.compute.rulebooks import Answer
from inspection.loaders.block.sheets import load_sheet, sheets_to_load
from inspection.models import (
    Entry,
    EntryMove,
    MotorSeal,
    Protest,
    Seal,
    Sheet,
    SheetReading,
    SheetRuling,
    SheetVoid,
    Strike,
)
from inventory.actions.audit import Act
from inventory.actions.gauges import strike_check
from inventory.actions.people.families import declare_family
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import CheckResult, Instrument
from inventory.compute.numbers import Unit
from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders

CARS = 3
#: Where a car may go, written out by hand, each with what takes it there.
MOVES = {
    ("", "waiting"),
    ("waiting", "on block"),
    ("on block", "passed"),
    ("on block", "sent back"),
    ("on block", "waiting"),
    ("sent back", "waiting"),
    ("passed", "on block"),
    ("waiting", "withdrawn"),
    ("on block", "withdrawn"),
    ("sent back", "withdrawn"),
    ("passed", "withdrawn"),
    ("withdrawn", "waiting"),
    ("withdrawn", "sent back"),
    ("withdrawn", "passed"),
}
WHY = "said so by the test"
one_of_cars = st.integers(0, CARS - 1)
one_of_two = st.integers(0, 1)


def counts() -> dict[str, int]:
    """Count every table of the project: what was refused has written nothing."""
    models = [
        model
        for label in ("inspection", "inventory")
        for model in apps.get_app_config(label).get_models()
    ]
    tables = [model._meta.db_table for model in models]
    asked = " UNION ALL ".join(f"SELECT '{t}', COUNT(*) FROM {t}" for t in tables)
    with connection.cursor() as cursor:
        cursor.execute(asked)
        return dict(cursor.fetchall())


class NightMachine(RuleBasedStateMachine):
    """One open night, three cars, two scrutineers, a chief and two scales."""

    def __init__(self) -> None:
        super().__init__()
        self._transaction = transaction.atomic()
        self._transaction.__enter__()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self._transaction.__exit__(None, None, None)

    @initialize()
    def set_up(self) -> None:
        edition = builders.make_edition(
            [
                builders.rule("1", "weight_car", lower=80),
                builders.rule("2", "motor_sealed", required=Answer.YES),
                # Nothing of it is read: what the car is decides whether it binds.
                builders.rule(
                    "3",
                    "wheelbase",
                    lower=90,
                    condition_key="layout",
                    condition_word="sidewinder",
                ),
            ]
        )
        self.minute = 10
        self.people = [builders.make_scrutineer(), builders.make_scrutineer()]
        self.chief = builders.make_person(Role.CHIEF_SCRUTINEER)
        self.night = builders.make_night(edition)
        # The last car is the second scrutineer's own, the one before their family's.
        owners = [builders.make_person(), builders.make_person(), self.people[1]]
        declare_family(owners[1], self.people[1], act=builders.act())
        self.entries = [
            builders.make_entry(car=builders.make_car(owner=one), night=self.night).pk
            for one in owners
        ]
        self.scales = [
            builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)
            for _ in range(2)
        ]
        self.checks: list[list[tuple[dt.datetime, CheckResult]]] = [[], []]
        self.is_open = True
        #: Whether somebody unconcerned has looked at what a car is, the motor seals
        #: that are whole on it, and what is noted on each sheet.
        self.looked = [True] * CARS
        self.seals: list[list[str]] = [[] for _ in range(CARS)]
        self.used: set[str] = set()
        self.notes: dict[str, list[str]] = {}
        self.before_withdrawal: dict[int, str] = {}

    # What people do.

    @rule(car=one_of_cars, by=one_of_two)
    def put_on_block(self, car: int, by: int) -> None:
        works = self.is_open and self.state(car) in {"waiting", "passed"}
        works = works and not self.is_own(car, by)
        act = self.act(self.people[by])
        self.do(
            lambda: start_sheet(self.entries[car], block=None, changed=(), act=act),
            car=car,
            leads_to="on block" if works else None,
        )

    @rule(
        car=one_of_cars,
        grams=st.sampled_from(["85", "78", "nonsense"]),
        scale=one_of_two,
        by=one_of_two,
    )
    def weigh(self, car: int, grams: str, scale: int, by: int) -> None:
        failed = self.checks[scale][-1:]
        works = (
            self.state(car) == "on block"
            and not self.is_own(car, by)
            and grams != "nonsense"
            and not (failed and failed[0][1] is CheckResult.FAILED)
        )
        typed = TypedReading(
            reading_id=uuid.uuid4(),
            column="weight_car",
            text=grams,
            gauge_mode_id=self.scales[scale].pk,
            is_confirmed=True,
        )
        self.take(car, typed, by, works=works)

    @rule(car=one_of_cars, answer=st.sampled_from(Answer), by=one_of_two)
    def look(self, car: int, answer: Answer, by: int) -> None:
        typed = TypedReading(
            reading_id=uuid.uuid4(), column="motor_sealed", answer=answer
        )
        works = self.state(car) == "on block" and not self.is_own(car, by)
        self.take(car, typed, by, works=works)

    @rule(car=one_of_cars, newest=st.booleans())
    def strike(self, car: int, *, newest: bool) -> None:
        last = self.last(car)
        if last is None:
            return
        order = "-pk" if newest else "pk"
        reading = last.readings.filter(strike=None).order_by(order).first()
        if reading is None:
            return
        works = self.state(car) == "on block" and self.is_last_open(last)
        done = self.do(
            lambda: strike_reading(last.number, reading.pk, reason=WHY, act=self.act()),
            car=car,
        )
        assert done == works

    @rule(car=one_of_cars, decision=st.sampled_from(Decision), by=one_of_two)
    def seal(self, car: int, decision: Decision, by: int) -> None:
        last = self.last(car)
        if last is None:
            return
        was_on_block = self.state(car) == "on block" and self.is_last_open(last)
        must = was_on_block and self.is_plainly_good(car, last, by)
        must = must and self.looked[car]
        done = self.do(
            lambda: seal_sheet(
                last.number, decision=decision, act=self.act(self.people[by])
            ),
            car=car,
            may_lead_to=decision.value if was_on_block else None,
        )
        if must and decision is Decision.PASSED:
            assert done
        if done and decision is Decision.PASSED:
            assert self.looked[car]
            self.holds_a_pass(last, self.people[by])
        if done:
            said = json.loads(Seal.objects.get(sheet=last).content)
            on_it = [one["number"] for one in said["item"].get("motor_seals", [])]
            assert sorted(on_it) == sorted(self.seals[car])
            noted = [one["text"] for one in said.get("notes", [])]
            assert noted == self.notes.get(last.number, [])

    @rule(car=one_of_cars, text=st.sampled_from(["a scratch", "grit", "  "]))
    def note(self, car: int, text: str) -> None:
        last = self.last(car)
        if last is None:
            return
        works = self.is_last_open(last) and bool(text.strip())
        done = self.do(
            lambda: note_on_sheet(last.number, text, act=self.act()), car=car
        )
        assert done == works
        if done:
            self.notes.setdefault(last.number, []).append(text)

    @rule(car=one_of_cars, number=st.sampled_from(["M1", "M2", "M3", "m1", ""]))
    def put_on_seal(self, car: int, number: str) -> None:
        works = number.upper() not in {*self.used, ""} and not self.seals[car]
        of = Entry.objects.select_related("car").get(pk=self.entries[car]).car
        done = self.do(lambda: put_on_motor_seal(of, number, act=self.act()), car=car)
        assert done == works
        if done:
            self.used.add(number.upper())
            self.seals[car] = [number]

    @rule(car=one_of_cars, newest=st.booleans())
    def break_seal(self, car: int, *, newest: bool) -> None:
        of = MotorSeal.objects.filter(car__entries=self.entries[car])
        seal = of.order_by("-pk" if newest else "pk").first()
        if seal is None:
            return
        works = seal.number in self.seals[car]
        done = self.do(
            lambda: break_motor_seal(seal, reason=WHY, act=self.act()), car=car
        )
        assert done == works
        if done:
            self.seals[car] = []

    @rule(car=one_of_cars)
    def rebuild(self, car: int) -> None:
        """Put the motor in another way; the owner says so."""
        of = Entry.objects.select_related("car").get(pk=self.entries[car]).car
        ways = (Layout.IN_LINE, Layout.ANGLEWINDER)
        facts = CarFacts(
            number=of.number,
            name=of.name,
            owner=of.owner,
            race_class=of.race_class,
            layout=ways[of.layout == ways[0]],
            front_carrier=FrontCarrier(of.front_carrier),
        )
        works = not self.is_open or self.last(car) is None
        act = Act(by=of.owner, at=self.act().at)
        done = self.do(lambda: change_car(of, facts, act=act), car=car)
        assert done == works
        self.looked[car] = self.looked[car] and not done

    @rule(car=one_of_cars, by=one_of_two)
    def look_at_the_car(self, car: int, by: int) -> None:
        """Say on the block that it is what it is registered as."""
        last = self.last(car)
        if last is None:
            return
        works = self.is_last_open(last) and not self.is_own(car, by)
        done = self.do(
            lambda: confirm_on_block(last.number, act=self.act(self.people[by])),
            car=car,
        )
        assert done == works
        self.looked[car] = self.looked[car] or done

    @rule(car=one_of_cars)
    def take_off(self, car: int) -> None:
        works = self.state(car) == "on block"
        self.do(
            lambda: take_off_block(self.entries[car], reason=WHY, act=self.act()),
            car=car,
            leads_to="waiting" if works else None,
        )

    @rule(car=one_of_cars)
    def withdraw(self, car: int) -> None:
        before = self.state(car)
        works = self.is_open and before != "withdrawn"
        if works:
            self.before_withdrawal[car] = before
        self.do(
            lambda: withdraw_entry(self.entries[car], reason=WHY, act=self.act()),
            car=car,
            leads_to="withdrawn" if works else None,
        )

    @rule(car=one_of_cars)
    def undo(self, car: int) -> None:
        works = self.is_open and self.state(car) == "withdrawn"
        before = self.before_withdrawal.get(car, "")
        back = {"on block": "waiting"}.get(before, before)
        self.do(
            lambda: undo_withdrawal(self.entries[car], reason=WHY, act=self.act()),
            car=car,
            leads_to=back if works else None,
        )

    @rule(car=one_of_cars)
    def queue_again(self, car: int) -> None:
        works = self.is_open and self.state(car) == "sent back"
        self.do(
            lambda: call_back(self.entries[car], act=self.act()),
            car=car,
            leads_to="waiting" if works else None,
        )

    @rule(car=one_of_cars, stands=st.booleans())
    def reopen(self, car: int, *, stands: bool) -> None:
        last = self.last(car)
        read = (
            last.readings.filter(strike=None) if last else SheetReading.objects.none()
        )
        columns = set(read.values_list("column", flat=True)) if stands else set()
        works = self.is_open and self.state(car) == "passed"
        self.do(
            lambda: reopen_car(
                self.entries[car],
                reason=WHY,
                stands=columns,
                block=None,
                act=self.act(self.chief),
            ),
            car=car,
            leads_to="on block" if works else None,
        )

    @rule(scale=one_of_two, result=st.sampled_from(CheckResult))
    def check_scale(self, scale: int, result: CheckResult) -> None:
        at = self.act().at
        builders.check(self.scales[scale].gauge, result, at=at)
        self.checks[scale].append((at, result))

    @rule(scale=one_of_two)
    def mistyped_check(self, scale: int) -> None:
        """Strike the last check of a scale."""
        check = self.scales[scale].gauge.checks.filter(strike=None).first()
        if check is None or not self.checks[scale]:
            return
        assert self.do(lambda: strike_check(check, reason=WHY, act=self.act()))
        del self.checks[scale][-1]

    @rule(car=one_of_cars)
    def strike_what_is_in_doubt(self, car: int) -> None:
        for check in self.failed_checks():
            last = self.last(car)
            if last is not None:
                self.do(
                    lambda check=check, last=last: strike_doubtful(  # type: ignore[misc]
                        last.number, check, act=self.act()
                    ),
                    car=car,
                )

    @rule(car=one_of_cars, ruling=st.sampled_from(Ruling))
    def rule_on_sheet(self, car: int, ruling: Ruling) -> None:
        last = self.last(car)
        for check in self.failed_checks():
            if last is None:
                continue
            before = self.state(car)
            moves = ruling is not Ruling.STANDS and self.is_open
            then = {"passed": "on block", "sent back": "waiting"}.get(before)
            done = self.do(
                lambda check=check: rule_on_doubt(  # type: ignore[misc]
                    last.number,
                    check,
                    ruling=ruling,
                    reason=WHY,
                    act=self.act(self.chief),
                ),
                car=car,
                may_lead_to=then if moves else before,
            )
            if done:
                assert Seal.objects.filter(sheet=last).exists()
                assert self.state(car) == (then if moves and then else before)

    @rule(car=one_of_cars, ruling=st.sampled_from(ProtestRuling))
    def protest(self, car: int, ruling: ProtestRuling) -> None:
        entry = Entry.objects.get(pk=self.entries[car])
        by = Act(by=entry.driver, at=self.act().at)
        against = self.night.classes.get().edition.rules.get(number="1")
        if self.do(
            lambda: raise_protest(entry.pk, against, claim=WHY, act=by), car=car
        ):
            raised = Protest.objects.latest("pk")
            done = self.do(
                lambda: rule_on_protest(
                    raised.pk, ruling, reason=WHY, act=self.act(self.chief)
                ),
                car=car,
            )
            assert done == (ruling is not ProtestRuling.WITHDRAWN)

    @rule()
    def close(self) -> None:
        works = self.is_open and not any(
            self.state(car) == "on block" for car in range(CARS)
        )
        assert self.do(lambda: close_night(self.night, act=self.act())) == works
        self.is_open = self.is_open and not works

    # What is always true.

    @invariant()
    def sheet_is_one_thing(self) -> None:
        sealed = set(Seal.objects.values_list("sheet", flat=True))
        void = set(SheetVoid.objects.values_list("sheet", flat=True))
        assert not sealed & void
        opened = Sheet.objects.exclude(pk__in=sealed | void)
        entries = list(opened.values_list("entry", flat=True))
        assert len(entries) == len(set(entries))
        on_block = Entry.objects.filter(state="on block").values_list("pk", flat=True)
        assert sorted(entries) == sorted(on_block)

    @invariant()
    def moves_are_those_that_were_agreed(self) -> None:
        for entry in Entry.objects.all():
            moves = list(
                EntryMove.objects.filter(entry=entry)
                .order_by("pk")
                .values_list("from_state", "to_state")
            )
            assert set(moves) <= MOVES
            ends = [end for _, end in moves]
            assert [start for start, _ in moves] == ["", *ends[:-1]]
            assert ends[-1] == entry.state

    @invariant()
    def seals_form_one_chain(self) -> None:
        before = ""
        for place, seal in enumerate(
            Seal.objects.order_by("sequence").select_related("signed"), start=1
        ):
            text = seal.content
            own = hashlib.sha256(text.encode()).hexdigest()
            linked = hashlib.sha256(f"{before}\n{own}".encode()).hexdigest()
            said = json.loads(text)
            assert (seal.sequence, seal.previous_sha256, seal.sha256) == (
                place,
                before,
                linked,
            )
            assert said["decision"] == seal.decision
            assert said["sealed_by"]["id"] == seal.sealed_by_id
            assert said["sealed_at"] == seal.sealed_at.isoformat()
            before = linked

    @invariant()
    def sealed_sheets_give_their_findings_again(self) -> None:
        for sheet in sheets_to_load().exclude(seal=None):
            stored = {
                one.rule_id: (one.outcome, one.is_admitted)
                for one in sheet.findings.all()
            }
            again = {
                one.rule.pk: (one.outcome.value, one.is_admitted)
                for one in load_sheet(sheet).findings
            }
            assert again == stored

    @invariant()
    def void_readings_count_nowhere(self) -> None:
        for sheet in sheets_to_load().exclude(void=None):
            loaded = load_sheet(sheet)
            assert not loaded.values
            assert not loaded.findings
        carried = SheetReading.objects.exclude(carried_from=None)
        for one in carried.select_related("sheet", "carried_from__sheet"):
            assert one.carried_from is not None
            assert one.carried_from.sheet_id == one.sheet.previous_id
            assert not one.carried_from.sheet.is_void
        assert not SheetRuling.objects.filter(sheet__seal=None).exists()

    # How it is done.

    def act(self, by: Person | None = None) -> Act:
        self.minute += 1
        at = builders.NOW + dt.timedelta(minutes=self.minute)
        return Act(by=by or self.people[0], at=at)

    def state(self, car: int) -> str:
        return Entry.objects.get(pk=self.entries[car]).state

    def is_own(self, car: int, by: int) -> bool:
        """Tell of the second scrutineer's car and the one of their family."""
        return by == 1 and car >= CARS - 2

    def last(self, car: int) -> Sheet | None:
        return Sheet.objects.filter(entry=self.entries[car]).order_by("-pk").first()

    def is_last_open(self, sheet: Sheet) -> bool:
        ended = (Seal.objects, SheetVoid.objects)
        return not any(one.filter(sheet=sheet).exists() for one in ended)

    def failed_checks(self) -> list[int]:
        return [
            pk
            for scale in self.scales
            for pk in scale.gauge.checks.filter(
                result=CheckResult.FAILED, strike=None
            ).values_list("pk", flat=True)
        ]

    def take(self, car: int, typed: TypedReading, by: int, *, works: bool) -> None:
        last = self.last(car)
        if last is None:
            return
        done = self.do(
            lambda: take_reading(last.number, typed, act=self.act(self.people[by])),
            car=car,
        )
        assert done == works

    def do(
        self,
        what: Callable[[], Any],
        *,
        car: int | None = None,
        leads_to: str | None = "?",
        may_lead_to: str | None = "?",
    ) -> bool:
        """
        Do it; a refusal writes nothing, and no other car moves.

        ``leads_to`` is where it must lead, None where it must be refused;
        ``may_lead_to`` where it leads unless it is refused.
        """
        before, states = counts(), [self.state(one) for one in range(CARS)]
        try:
            what()
        except RefusedError as refusal:
            refused = refusal.sentence
        else:
            refused = ""
        if refused:
            assert counts() == before
            assert [self.state(one) for one in range(CARS)] == states
            assert leads_to in {"?", None}, refused
            return False
        assert leads_to is not None
        after = [self.state(one) for one in range(CARS)]
        others = [one for one in range(CARS) if one != car]
        assert [after[one] for one in others] == [states[one] for one in others]
        if car is not None and leads_to != "?":
            assert after[car] == leads_to
        elif car is not None and may_lead_to != "?":
            assert after[car] in {may_lead_to, states[car]}
        elif car is not None:
            assert after[car] == states[car]
        return True

    def is_plainly_good(self, car: int, sheet: Sheet, by: int) -> bool:
        """Whether one fresh weight in order and one yes are all that was read."""
        if self.is_own(car, by):
            return False
        struck = set(Strike.objects.values_list("reading", flat=True))
        rows = [one for one in sheet.readings.all() if one.pk not in struck]
        weights = [one for one in rows if one.column == "weight_car"]
        looks = [one for one in rows if one.column == "motor_sealed"]
        return (
            len(weights) == len(looks) == 1
            and weights[0].carried_from_id is None
            and weights[0].value == 85_000_000
            and looks[0].answer == "yes"
            and looks[0].carried_from_id is None
            and not self.failed_after(weights[0])
        )

    def failed_after(self, reading: SheetReading) -> bool:
        """Whether the first check of its scale after a reading failed."""
        for scale, mode in enumerate(self.scales):
            if mode.pk == reading.gauge_mode_id:
                later = [r for at, r in self.checks[scale] if at > reading.taken_at]
                return later[:1] == [CheckResult.FAILED]
        return False

    def holds_a_pass(self, sheet: Sheet, by: Person) -> None:
        said = json.loads(Seal.objects.get(sheet=sheet).content)
        assert all(one["admitted"] for one in said["findings"])
        assert {one["rule"] for one in said["findings"]} == {"1", "2"}
        assert by.pk not in {sheet.entry.driver_id, sheet.entry.car.owner_id}
        readers = {one["by"]["id"] for one in said["readings"]}
        assert self.people[1].pk not in readers or sheet.entry_id == self.entries[0]
        counting = [one for one in said["readings"] if "struck" not in one]
        rows = SheetReading.objects.filter(
            reading_id__in=[one["id"] for one in counting]
        )
        assert not any(self.failed_after(one) for one in rows)


def run(*, examples: int, steps: int) -> None:
    run_state_machine_as_test(
        NightMachine,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )


@pytest.mark.django_db
def test_night_in_any_order_keeps_what_is_always_true() -> None:
    run(examples=5, steps=25)


@pytest.mark.long
@pytest.mark.django_db
def test_many_nights_in_any_order_keep_what_is_always_true() -> None:
    run(examples=500, steps=40)
