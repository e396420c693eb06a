"""Seals: signing a sheet, and checking that no signed sheet was changed."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.learning import tell_car, tell_parts
from inspection.actions.other_hands import refuse_own_car
from inspection.actions.race_nights import move_entry
from inspection.actions.readings import lock_sheet
from inspection.compute.night import (
    Decision,
    EntryState,
    Link,
    chained_hash,
    clock_jump,
    first_broken,
)
from inspection.files.canonical import canonical_text
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.readings import is_struck
from inspection.loaders.block.seals import (
    pack_inputs,
    person_as_json,
    sheet_as_json,
    whole,
)
from inspection.loaders.block.sheets import LoadedSheet, load_sheet
from inspection.loaders.block.values import parts_on
from inspection.models import Finding, RaceNight, Seal, SealContent, SealInputs
from inspection.words.quantities import column_name, quantity_name
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import LEAST_REASON, RefusedError
from inventory.compute.roles import Ability
from inventory.words.enumerations import word_of

_STATE = {Decision.PASSED: EntryState.PASSED, Decision.SENT_BACK: EntryState.SENT_BACK}


@transaction.atomic
def seal_sheet(number: str, *, decision: Decision, act: Act, reason: str = "") -> Seal:
    """
    Sign a sheet: the car passed, or is sent back.

    Writes the Findings, a Seal with its SealContent and SealInputs, what the parts
    and the car learn and the entry's move with the reason; audits ``sheet.sealed``
    and, where the clock was set since the last moment on record, ``clock.set``.
    Raises RefusedError when somebody sealed it first, the car is the scrutineer's own
    or their family's, a reading is in dispute, nothing was done since the sheet before
    was sealed so; when it is to pass and a mandatory rule is not admitted, something
    that is asked was not read or a gauge is in doubt; when it is to be sent back and
    nothing that was read for this sheet speaks against it, unless the chief says why.
    """
    sheet = lock_sheet(number)
    loaded = load_sheet(sheet, is_anew=True)
    is_own_car = refuse_own_car(sheet, Ability.SEAL_SHEETS, act)
    _refuse_conflicts(loaded)
    reason = reason.strip()
    if decision is Decision.PASSED:
        _refuse_doubts(loaded)
        _refuse_unadmitted(loaded)
        _refuse_unread(loaded)
    elif not loaded.may_be_sent_back:
        _refuse_without_reason(reason, act)
    _refuse_unchanged(loaded, decision)
    Finding.objects.bulk_create(
        _finding(loaded, finding) for finding in loaded.findings
    )
    seal = _chain(loaded, decision, reason, is_own_car=is_own_car, act=act)
    columns, numbers = pack_inputs(loaded.field)
    SealInputs.objects.create(seal=seal, columns=columns, numbers=numbers)
    tell_parts(loaded, act=act)
    tell_car(loaded, act=act)
    move_entry(sheet.entry, _STATE[decision], act=act, reason=reason)
    record_event(
        "sheet.sealed", subject=sheet, act=act, decision=decision, sha256=seal.sha256
    )
    return seal


def _refuse_conflicts(loaded: LoadedSheet) -> None:
    if loaded.conflicts:
        labels = ", ".join(quantity_name(value.quantity) for value in loaded.conflicts)
        raise RefusedError(
            code="readings_disagree",
            sentence=_(
                "Two sets of readings disagree (%(labels)s); strike one of each."
            )
            % {"labels": labels},
        )


def _refuse_doubts(loaded: LoadedSheet) -> None:
    if loaded.doubts:
        doubtful = "; ".join(
            f"{doubt.gauge}: {', '.join(doubt.labels)}" for doubt in loaded.doubts
        )
        raise RefusedError(
            code="gauge_failed",
            sentence=_(
                "The car cannot pass on readings of a gauge that failed its next check "
                "(%(said)s); strike them and read again with a gauge in order."
            )
            % {"said": doubtful},
        )


def _refuse_unchanged(loaded: LoadedSheet, decision: Decision) -> None:
    """Refuse a sheet on which nothing was done: the one before says it already."""
    sheet = loaded.sheet
    before = (
        Seal.objects.filter(sheet=sheet.previous_id).select_related("sheet").first()
    )
    if (
        before is None
        or before.decision != decision
        or before.sheet.edition_id != sheet.edition_id
        or before.sheet.stage != sheet.stage
        or parts_on(sheet) != parts_on(before.sheet)
        or any(one.carried_from_id is None or is_struck(one) for one in loaded.readings)
    ):
        return
    raise RefusedError(
        code="sheet_unchanged",
        sentence=_(
            "Nothing was read or struck since sheet %(sheet)s was sealed "
            "“%(decision)s”; there is nothing to seal anew."
        )
        % {"sheet": before.sheet, "decision": word_of(before.decision)},
    )


def _refuse_unadmitted(loaded: LoadedSheet) -> None:
    if loaded.refused:
        rules = ", ".join(
            f"{finding.rule.number} ({word_of(finding.outcome)})"
            for finding in loaded.refused
        )
        raise RefusedError(
            code="rules_not_admitted",
            sentence=_("The car cannot pass: rule %(rules)s.") % {"rules": rules},
        )


def _refuse_unread(loaded: LoadedSheet) -> None:
    if loaded.unread:
        labels = ", ".join(column_name(column) for column in loaded.unread)
        raise RefusedError(
            code="asked_not_read",
            sentence=_("The car cannot pass: asked and not read yet: %(labels)s.")
            % {"labels": labels},
        )


def _refuse_without_reason(reason: str, act: Act) -> None:
    if not act.by.may(Ability.SEND_BACK_BY_WORD):
        raise RefusedError(
            code="nothing_found",
            sentence=_(
                "Nothing that was read on this sheet speaks against the car. Measure "
                "what is in doubt, or let the chief send it back with a reason."
            ),
        )
    if len(reason) < LEAST_REASON:
        raise RefusedError(
            code="reason_missing",
            sentence=_(
                "“%(reason)s” is no reason; nothing that was read speaks against the "
                "car, so say why in %(least_reason)s characters or more."
            )
            % {"reason": reason, "least_reason": LEAST_REASON},
            field="reason",
        )


def _finding(loaded: LoadedSheet, finding: RuleFinding) -> Finding:
    return Finding(
        sheet=loaded.sheet,
        rule_id=finding.rule.pk,
        outcome=finding.outcome,
        is_admitted=finding.is_admitted,
        is_taken=finding.is_taken,
        value=whole(finding.value),
        u_value=whole(finding.u_value),
        margin=whole(finding.margin),
        probability=finding.probability,
        point=finding.point.value if finding.point else "",
    )


def _chain(
    loaded: LoadedSheet,
    decision: Decision,
    reason: str,
    *,
    is_own_car: bool,
    act: Act,
) -> Seal:
    # The night's row is the end of its chain: one seal at a time takes hold of it.
    night = RaceNight.objects.select_for_update().get(pk=loaded.sheet.entry.night_id)
    last = Seal.objects.filter(night=night).order_by("-sequence").first()
    clock = _clock(loaded, last, act)
    previous = last.sha256 if last else ""
    sequence = last.sequence + 1 if last else 1
    content = canonical_text(
        sheet_as_json(loaded)
        | {
            "decision": decision.value,
            "reason": reason,
            "own_car": is_own_car,
            "sealed_at": act.at.isoformat(),
            "sealed_by": person_as_json(act.by),
            "sequence": sequence,
        }
        | clock
    )
    seal = Seal.objects.create(
        sheet=loaded.sheet,
        night=night,
        sequence=sequence,
        decision=decision,
        previous_sha256=previous,
        sha256=chained_hash(previous, content),
        sealed_at=act.at,
        sealed_by=act.by,
        is_own_car=is_own_car,
    )
    SealContent.of(seal, content).save(force_insert=True)
    return seal


def _clock(loaded: LoadedSheet, last: Seal | None, act: Act) -> dict[str, Any]:
    """Say whether the clock was set since the last moment on record."""
    moments = [reading.received_at for reading in loaded.readings]
    moments += [loaded.sheet.started_at, *([last.sealed_at] if last else [])]
    before = max(moments)
    way = clock_jump((act.at - before).total_seconds())
    if way is None:
        return {}
    setting = {"set": way.value, "before": before.isoformat()}
    record_event("clock.set", subject=loaded.sheet, act=act, **setting)
    return {"clock": setting}


def first_broken_seal(night: RaceNight) -> Seal | None:
    """
    Walk a night's chain; give the first seal that does not hold.

    Writes nothing.
    """
    seals = list(night.seals.select_related("signed").order_by("sequence"))
    place = first_broken(
        Link(
            content=seal.content,
            previous_sha256=seal.previous_sha256,
            sha256=seal.sha256,
        )
        for seal in seals
    )
    return None if place is None else seals[place]
