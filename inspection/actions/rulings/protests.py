"""Protests: raising one, hearing it, measuring again and ruling."""

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.sheets import last_counting, reopen_car
from inspection.compute.night import ProtestRuling, SheetState, is_in_time
from inspection.compute.stance import inputs_of
from inspection.loaders.night.protests import (
    LoadedProtest,
    load_protest,
    may_protest,
    minutes_to_protest,
    protests_to_load,
)
from inspection.models import (
    Entry,
    Protest,
    ProtestHearer,
    ProtestRuled,
    ProtestSheet,
    ProtestTime,
    RaceClass,
    Rule,
    Sheet,
    SheetReading,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import LEAST_REASON, RefusedError
from inventory.models import Person
from inventory.words.enumerations import word_of


@transaction.atomic
def raise_protest(entry_id: int, rule: Rule, *, claim: str, act: Act) -> Protest:
    """
    Protest against a car, or the ruling on it, by a rule of its edition.

    Writes a Protest; audits ``protest.raised``.  Raises RefusedError without a claim,
    when the person neither races that night nor is an official, the rule is not of
    the car's edition, or the class's time is over.
    """
    entry = Entry.objects.select_related("night", "car", "race_class").get(pk=entry_id)
    words = _need_words(claim, field="claim")
    if not may_protest(act.by, entry):
        raise RefusedError(
            code="not_of_the_night",
            sentence=_("A driver or an owner of that night, or an official, protests."),
        )
    sheet = last_counting(entry)
    sealed = sheet if sheet is not None and sheet.is_sealed else None
    named = entry.night.classes.filter(race_class=entry.race_class)
    editions = (
        {sheet.edition_id} if sheet else set(named.values_list("edition", flat=True))
    )
    if rule.edition_id not in editions:
        raise RefusedError(
            code="rule_of_another_edition",
            sentence=_(
                "Rule %(rule)s of %(edition)s is not what car %(entry)s races by."
            )
            % {"rule": rule.number, "edition": rule.edition, "entry": entry.number},
            field="rule",
        )
    if sealed is not None:
        _refuse_late(entry, since=sealed.seal.sealed_at, act=act)
    elif entry.night.closed_at is not None:
        raise RefusedError(
            code="night_closed",
            sentence=_("%(night)s is closed.") % {"night": entry.night},
        )
    protest = Protest.objects.create(
        entry=entry, sheet=sealed, rule=rule, claim=words, by=act.by, at=act.at
    )
    record_event("protest.raised", subject=protest, act=act, rule=rule.number)
    return protest


@transaction.atomic
def appeal(protest_id: int, *, claim: str, act: Act) -> Protest:
    """
    Appeal to the club against the ruling on a protest: a second one.

    Writes a Protest; audits ``protest.appealed``.  Raises RefusedError without a
    claim, when nothing was ruled yet, there is an appeal already, the protest is one
    itself, the person is not part of it, or the class's time is over.
    """
    first = _lock(protest_id).protest
    words = _need_words(claim, field="claim")
    parts = {first.by_id, first.entry.driver_id, first.entry.car.owner_id}
    if not hasattr(first, "ruled") or first.appeal_of_id or hasattr(first, "appeal"):
        raise RefusedError(
            code="no_appeal",
            sentence=_("%(first)s cannot be appealed against now.") % {"first": first},
        )
    if act.by.pk not in parts:
        raise RefusedError(
            code="not_part_of_it",
            sentence=_("Whoever protested, or owns or drives the car, appeals."),
        )
    _refuse_late(first.entry, since=first.ruled.at, act=act)
    second = Protest.objects.create(
        entry=first.entry,
        sheet=first.sheet,
        rule=first.rule,
        claim=words,
        by=act.by,
        at=act.at,
        appeal_of=first,
    )
    record_event("protest.appealed", subject=second, act=act, first=first.pk)
    return second


@transaction.atomic
def name_hearer(protest_id: int, person: Person, *, act: Act) -> ProtestHearer:
    """
    Name somebody to hear a protest in which the chief is concerned.

    Writes a ProtestHearer; audits ``protest.hearer_named``.  Raises RefusedError when
    it was ruled, or the person is concerned as well.
    """
    loaded = _lock(protest_id)
    _refuse_ruled(loaded)
    if person.pk in loaded.concerned:
        raise RefusedError(
            code="concerned",
            sentence=_(
                "%(person)s owns or drives the car, protested, is their family, sealed "
                "the sheet or ruled before; name somebody else."
            )
            % {"person": person},
            field="person",
        )
    named = ProtestHearer.objects.create(
        protest=loaded.protest, person=person, named_by=act.by, at=act.at
    )
    record_event(
        "protest.hearer_named", subject=loaded.protest, act=act, person=person.pk
    )
    return named


@transaction.atomic
def measure_again(protest_id: int, *, act: Act) -> Sheet:
    """
    Bring the car back on the block, to read what the rule rests on by other hands.

    Writes what ``reopen_car`` writes and a ProtestSheet; audits
    ``protest.measured_again``.  Raises RefusedError when the person does not hear the
    protest, or the car has not passed.
    """
    loaded = _lock(protest_id)
    _refuse_other_hearer(loaded, act)
    protest = loaded.protest
    carrier = protest.entry.car.front_carrier
    inputs = inputs_of(protest.rule.quantity, carrier)
    last = last_counting(protest.entry)
    read = SheetReading.objects.filter(sheet=last, strike=None)
    sheet = reopen_car(
        protest.entry_id,
        reason=f"protest {protest.pk}: rule {protest.rule.number}",
        stands=set(read.values_list("column", flat=True)) - inputs,
        block=None,
        act=act,
    )
    ProtestSheet.objects.create(protest=protest, sheet=sheet)
    record_event("protest.measured_again", subject=protest, act=act, sheet=sheet.number)
    return sheet


@transaction.atomic
def rule_on_protest(
    protest_id: int, ruling: ProtestRuling, *, reason: str, act: Act
) -> ProtestRuled:
    """
    Uphold or reject a protest; whoever raised it may withdraw it.

    Writes a ProtestRuled; audits ``protest.ruled``.  Raises RefusedError without a
    reason, when it was ruled, the person may not, or the car is still being measured.
    """
    loaded = _lock(protest_id)
    why = _need_words(reason, field="reason")
    if ruling is not ProtestRuling.WITHDRAWN:
        _refuse_other_hearer(loaded, act)
    elif act.by.pk != loaded.protest.by_id:
        raise RefusedError(
            code="not_the_protester",
            sentence=_("%(by)s protested, and alone may withdraw it.")
            % {"by": loaded.protest.by},
            field="ruling",
        )
    _refuse_ruled(loaded)
    for one in loaded.measured:
        if one.sheet.state is SheetState.OPEN:
            raise RefusedError(
                code="still_measured",
                sentence=_("Sheet %(sheet)s is still open: seal it first.")
                % {"sheet": one.sheet},
            )
    ruled = ProtestRuled.objects.create(
        protest=loaded.protest, ruling=ruling, by=act.by, at=act.at, reason=why
    )
    record_event("protest.ruled", subject=loaded.protest, act=act, ruling=ruling)
    return ruled


@transaction.atomic
def set_protest_time(race_class: RaceClass, minutes: int, *, act: Act) -> ProtestTime:
    """
    Say how long after a ruling a class may protest.

    Writes the ProtestTime; audits ``class.protest_time_set``.
    """
    time, _ = ProtestTime.objects.update_or_create(
        race_class=race_class, defaults={"minutes": minutes}
    )
    record_event("class.protest_time_set", subject=race_class, act=act, minutes=minutes)
    return time


def _lock(protest_id: int) -> LoadedProtest:
    Protest.objects.select_for_update().get(pk=protest_id)
    return load_protest(protests_to_load().get(pk=protest_id))


def _need_words(text: str, *, field: str) -> str:
    words = text.strip()
    if len(words) < LEAST_REASON:
        raise RefusedError(
            code="reason_missing",
            sentence=_(
                "“%(text)s” says too little; write %(least_reason)s characters or more."
            )
            % {"text": text, "least_reason": LEAST_REASON},
            field=field,
        )
    return words


def _refuse_late(entry: Entry, *, since: dt.datetime, act: Act) -> None:
    minutes = minutes_to_protest(entry.race_class_id)
    if not is_in_time((act.at - since).total_seconds(), minutes=minutes):
        raise RefusedError(
            code="too_late",
            sentence=_(
                "%(race_class)s may protest for %(minutes)s minutes after a ruling; "
                "that time is over."
            )
            % {"race_class": entry.race_class, "minutes": minutes},
        )


def _refuse_ruled(loaded: LoadedProtest) -> None:
    if loaded.is_ruled:
        raise RefusedError(
            code="ruled_already",
            sentence=_("The protest against car %(entry)s was %(ruling)s already.")
            % {
                "entry": loaded.protest.entry.number,
                "ruling": word_of(loaded.protest.ruled.ruling),
            },
        )


def _refuse_other_hearer(loaded: LoadedProtest, act: Act) -> None:
    _refuse_ruled(loaded)
    if not loaded.may_be_heard_by(act.by):
        raise RefusedError(
            code="not_the_hearer",
            sentence=_(
                "A chief who neither owns nor drives the car, protested nor sealed its "
                "sheet hears this; else somebody whom the admin names."
            ),
        )
