"""After the race: cars held and let go, and the sample that is drawn."""

import secrets

from django.db import transaction
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
    Sheet,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
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
    not open, there is a sample already, or a car was checked after the race before.
    """
    locked = RaceNight.objects.select_for_update().get(pk=night.pk)
    _refuse_closed(locked)
    if Sample.objects.filter(night=locked).exists():
        raise RefusedError(
            code="sample_planned", sentence=_("This night has its sample already.")
        )
    if Sheet.objects.filter(entry__night=locked, stage=Stage.AFTER).exists():
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
    RefusedError when the night is closed, there is no sample, it was drawn, or no car
    has passed.
    """
    locked = RaceNight.objects.select_for_update().get(pk=night.pk)
    _refuse_closed(locked)
    sample = Sample.objects.filter(night=locked).first()
    if sample is None or SampleDraw.objects.filter(sample=sample).exists():
        raise RefusedError(
            code="no_sample",
            sentence=_("There is no sample to draw, or it was drawn already."),
        )
    passed = locked.entries.filter(state=EntryState.PASSED)
    named = {name_of(one): one for one in passed.select_related("race_class")}
    if not named:
        raise RefusedError(code="nothing_passed", sentence=_("No car has passed yet."))
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


def name_of(entry: Entry) -> str:
    """Name an entry as the draw does: its class and its number."""
    return f"{entry.race_class.name}/{entry.number}"


def _refuse_closed(night: RaceNight) -> None:
    if night.opened_at is None or night.closed_at is not None:
        raise RefusedError(
            code="night_not_open",
            sentence=_("%(night)s is not open.") % {"night": night},
        )
