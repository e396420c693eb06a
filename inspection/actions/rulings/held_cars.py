"""After the race: cars held and let go, and the sample that is drawn."""

import secrets

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from inspection.actions.race_nights import lock_entry
from inspection.compute.night import EntryState, drawn_names, seed_hash
from inspection.compute.rulebooks import Stage
from inspection.models import (
    Entry,
    HeldCar,
    RaceNight,
    ReleasedCar,
    Sample,
    SampleDraw,
    SampleVoid,
    Sheet,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given
from inventory.words.enumerations import word_of


@transaction.atomic
def hold_car(entry_id: int, *, reason: str, act: Act) -> HeldCar:
    """
    Hold a car after the race, for whoever checks it.

    Writes a HeldCar; audits ``car.held``.  Raises RefusedError without a reason, when
    the night is closed, the car has not passed, or it is held already.
    """
    if not reason.strip():
        raise RefusedError(
            code="reason_missing",
            sentence=_("Say why the car is held."),
            field="reason",
        )
    entry = lock_entry(entry_id)
    _refuse_closed(entry.night)
    if entry.state != EntryState.PASSED:
        raise RefusedError(
            code="not_passed",
            sentence=_(
                "Car %(entry)s is “%(state)s”; a car that passed is held after the "
                "race."
            )
            % {"entry": entry.number, "state": word_of(entry.state)},
        )
    if HeldCar.objects.filter(entry=entry, release=None).exists():
        raise RefusedError(
            code="held_already",
            sentence=_("Car %(entry)s is held already.") % {"entry": entry.number},
        )
    held = HeldCar.objects.create(
        entry=entry, by=act.by, at=act.at, reason=reason.strip()
    )
    record_event("car.held", subject=entry, act=act, reason=reason.strip())
    return held


@transaction.atomic
def release_car(held_id: int, *, act: Act) -> ReleasedCar:
    """
    Let a held car go.

    Writes a ReleasedCar; audits ``car.released``.  Raises RefusedError when it was
    let go before.
    """
    held = HeldCar.objects.select_for_update(of=("self",)).get(pk=held_id)
    if ReleasedCar.objects.filter(held=held).exists():
        raise RefusedError(
            code="released_already", sentence=_("This car was let go before.")
        )
    released = ReleasedCar.objects.create(held=held, by=act.by, at=act.at)
    record_event("car.released", subject=held.entry, act=act)
    return released


@transaction.atomic
def plan_sample(night: RaceNight, count: int, *, act: Act) -> Sample:
    """
    Say how many cars are drawn after the race; from now on the seed's hash is shown.

    Writes a Sample; audits ``sample.planned``.  Raises RefusedError when the night is
    not open, there is a sample already, it is larger than the cars that race, or a car
    was checked after the race before, unless it is in place of one taken back.
    """
    locked = RaceNight.objects.select_for_update().get(pk=night.pk)
    _refuse_closed(locked)
    if sample_of(locked) is not None:
        raise RefusedError(
            code="sample_planned", sentence=_("This night has its sample already.")
        )
    _refuse_too_large(locked, count)
    is_first = not Sample.objects.filter(night=locked).exists()
    after = Sheet.objects.filter(entry__night=locked, stage=Stage.AFTER)
    if is_first and after.exists():
        raise RefusedError(
            code="after_the_race",
            sentence=_(
                "A car was checked after the race already; the hash is shown before it."
            ),
        )
    seed = secrets.token_hex(16)
    sample = Sample.objects.create(
        night=locked,
        seed=seed,
        seed_sha256=seed_hash(seed),
        count=count,
        by=act.by,
        at=act.at,
    )
    record_event(
        "sample.planned",
        subject=locked,
        act=act,
        sha256=sample.seed_sha256,
        count=count,
    )
    return sample


@transaction.atomic
def draw_sample(night: RaceNight, *, act: Act) -> SampleDraw:
    """
    Draw the sample among the cars that passed, show the seed, and hold the cars.

    Writes a SampleDraw and a HeldCar each; audits ``sample.drawn``.  Raises
    RefusedError when the night is closed, there is no sample, it was drawn, no car
    has passed, or it is larger than the cars that did.
    """
    locked = RaceNight.objects.select_for_update().get(pk=night.pk)
    _refuse_closed(locked)
    sample = sample_of(locked)
    if sample is None or SampleDraw.objects.filter(sample=sample).exists():
        raise RefusedError(
            code="no_sample",
            sentence=_("There is no sample to draw, or it was drawn already."),
        )
    passed = locked.entries.filter(state=EntryState.PASSED)
    named = {name_of(one): one for one in passed.select_related("race_class")}
    if not named:
        raise RefusedError(code="nothing_passed", sentence=_("No car has passed yet."))
    if sample.count > len(named):
        raise RefusedError(
            code="sample_too_large",
            sentence=_(
                "Cars to draw after the race: “%(count)s” was typed; %(passed)s "
                "passed. Nothing was drawn: take the sample back and say fewer, or "
                "draw it when more have passed."
            )
            % {"count": sample.count, "passed": len(named)},
        )
    drawn = drawn_names(sample.seed, named, count=sample.count)
    draw = SampleDraw.objects.create(
        sample=sample, among=sorted(named), drawn=list(drawn), by=act.by, at=act.at
    )
    held = set(
        HeldCar.objects.filter(entry__night=locked, release=None).values_list(
            "entry", flat=True
        )
    )
    HeldCar.objects.bulk_create(
        HeldCar(entry=named[name], by=act.by, at=act.at, reason="drawn")
        for name in drawn
        if named[name].pk not in held
    )
    record_event(
        "sample.drawn", subject=locked, act=act, seed=sample.seed, drawn=list(drawn)
    )
    return draw


@transaction.atomic
def take_sample_back(night: RaceNight, *, reason: str, act: Act) -> SampleVoid:
    """
    Take a sample back, with a reason: another may be said in its place.

    The cars that were held because they were drawn are let go; the draw stays to be
    read.  Writes a SampleVoid and a ReleasedCar each; audits ``sample.taken_back``.
    Raises RefusedError without a reason, when the night is not open, there is no
    sample, or a car that was drawn has been on a block since.
    """
    why = reason_given(reason)
    locked = RaceNight.objects.select_for_update().get(pk=night.pk)
    _refuse_closed(locked)
    sample = sample_of(locked)
    if sample is None:
        raise RefusedError(
            code="no_sample", sentence=_("There is no sample to take back.")
        )
    void = SampleVoid.objects.create(sample=sample, by=act.by, at=act.at, reason=why)
    draw = SampleDraw.objects.filter(sample=sample).first()
    names = _let_go_drawn(locked, draw, act) if draw is not None else []
    record_event(
        "sample.taken_back",
        subject=locked,
        act=act,
        sha256=sample.seed_sha256,
        reason=why,
        released=names,
    )
    return void


def _let_go_drawn(night: RaceNight, draw: SampleDraw, act: Act) -> list[str]:
    """Let the cars go that a draw held, unless one was looked at; give their names."""
    entries = night.entries.select_related("race_class")
    drawn = {one.pk: name_of(one) for one in entries if name_of(one) in draw.drawn}
    after = Sheet.objects.filter(stage=Stage.AFTER, started_at__gte=draw.at)
    # One put on by mistake and taken off unread was not looked at.
    looked_at = after.filter(Q(void=None) | Q(readings__isnull=False))
    sheet = looked_at.filter(entry__in=drawn).select_related("entry").first()
    if sheet is not None:
        raise RefusedError(
            code="sample_looked_at",
            sentence=_(
                "Car %(entry)s was drawn and has been on a block since: sheet "
                "%(sheet)s. The sample stands."
            )
            % {"entry": sheet.entry.number, "sheet": sheet.number},
        )
    held = HeldCar.objects.filter(entry__in=drawn, at=draw.at, release=None)
    let_go = list(held.order_by("pk"))
    ReleasedCar.objects.bulk_create(
        ReleasedCar(held=one, by=act.by, at=act.at) for one in let_go
    )
    return [drawn[one.entry_id] for one in let_go]


def _refuse_too_large(night: RaceNight, count: int) -> None:
    state = night.entries.exclude(state=EntryState.WITHDRAWN).values_list("state")
    states = [one for (one,) in state]
    if count > len(states):
        passed = sum(one == EntryState.PASSED for one in states)
        raise RefusedError(
            code="sample_too_large",
            sentence=_(
                "Cars to draw after the race: “%(count)s” was typed; %(racing)s race, "
                "and %(passed)s of them have passed so far."
            )
            % {"count": count, "racing": len(states), "passed": passed},
            field="count",
        )


def sample_of(night: RaceNight) -> Sample | None:
    """Give the sample of a night that was not taken back, if there is one."""
    return Sample.objects.filter(night=night, void=None).first()


def name_of(entry: Entry) -> str:
    """Name an entry as the draw does: its class and its number."""
    return f"{entry.race_class.name}/{entry.number}"


def _refuse_closed(night: RaceNight) -> None:
    if night.opened_at is None or night.closed_at is not None:
        raise RefusedError(
            code="night_not_open",
            sentence=_("%(night)s is not open.") % {"night": night},
        )
