"""Seals: signing a sheet, and checking that no signed sheet was changed."""

from django.db import transaction

from inspection.actions.learning import tell_parts
from inspection.actions.race_nights import move_entry
from inspection.actions.readings import lock_sheet
from inspection.compute.chains import Link, chained_hash, first_broken
from inspection.compute.entries import Decision, EntryState
from inspection.files.canonical import canonical_text
from inspection.loaders.seals import (
    pack_inputs,
    person_as_json,
    sheet_as_json,
    whole,
)
from inspection.loaders.sheets import LoadedSheet, RuleFinding, load_sheet
from inspection.models import Finding, RaceNight, Seal, SealInputs
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role

_STATE = {Decision.PASSED: EntryState.PASSED, Decision.SENT_BACK: EntryState.SENT_BACK}


@transaction.atomic
def seal_sheet(number: str, *, decision: Decision, act: Act) -> Seal:
    """
    Sign a sheet: the car passed, or is sent back.

    Writes the Findings, a Seal with its SealInputs, what the parts learn and the
    entry's move; audits ``sheet.sealed``.  Raises RefusedError when somebody
    sealed it first, the car is the scrutineer's own, a reading is in dispute, or
    it is to pass and a mandatory rule is not admitted or not measured.
    """
    sheet = lock_sheet(number)
    loaded = load_sheet(sheet)
    is_own_car = _refuse_own_car(loaded, act)
    _refuse_conflicts(loaded)
    if decision is Decision.PASSED:
        _refuse_unadmitted(loaded)
    Finding.objects.bulk_create(_finding(loaded, found) for found in loaded.findings)
    seal = _chain(loaded, decision, is_own_car=is_own_car, act=act)
    columns, numbers = pack_inputs(loaded.field)
    SealInputs.objects.create(seal=seal, columns=columns, numbers=numbers)
    tell_parts(loaded, act=act)
    move_entry(sheet.entry, _STATE[decision], act=act)
    record_event(
        "sheet.sealed", subject=sheet, act=act, decision=decision, sha256=seal.sha256
    )
    return seal


def _refuse_own_car(loaded: LoadedSheet, act: Act) -> bool:
    entry = loaded.sheet.entry
    if act.by.pk not in {entry.car.owner_id, entry.driver_id}:
        return False
    if act.by.has_role(Role.CHIEF_SCRUTINEER) and not _other_scrutineer(act):
        return True
    raise RefusedError(
        code="own_car",
        sentence=f"Car {entry.car.number} is yours to race; another scrutineer "
        "seals its sheet.",
    )


def _other_scrutineer(act: Act) -> bool:
    people = type(act.by).objects.active().exclude(pk=act.by.pk)
    return people.filter(
        grants__role__in=[Role.SCRUTINEER, Role.CHIEF_SCRUTINEER]
    ).exists()


def _refuse_conflicts(loaded: LoadedSheet) -> None:
    if loaded.conflicts:
        labels = ", ".join(value.quantity.label for value in loaded.conflicts)
        raise RefusedError(
            code="readings_disagree",
            sentence=f"Two sets of readings disagree ({labels}); strike one of each.",
        )


def _refuse_unadmitted(loaded: LoadedSheet) -> None:
    if loaded.refused:
        rules = ", ".join(
            f"{found.rule.number} ({found.outcome})" for found in loaded.refused
        )
        raise RefusedError(
            code="rules_not_admitted",
            sentence=f"The car cannot pass: rule {rules}.",
        )


def _finding(loaded: LoadedSheet, found: RuleFinding) -> Finding:
    return Finding(
        sheet=loaded.sheet,
        rule_id=found.rule.pk,
        outcome=found.outcome,
        is_admitted=found.is_admitted,
        is_taken=found.is_taken,
        value=whole(found.value),
        u_value=whole(found.u_value),
        margin=whole(found.margin),
        probability=found.probability,
        point=found.point.value if found.point else "",
    )


def _chain(
    loaded: LoadedSheet, decision: Decision, *, is_own_car: bool, act: Act
) -> Seal:
    # The night's row is the end of its chain: one seal at a time takes hold of it.
    night = RaceNight.objects.select_for_update().get(pk=loaded.sheet.entry.night_id)
    last = Seal.objects.filter(night=night).order_by("-sequence").first()
    previous = last.sha256 if last else ""
    sequence = last.sequence + 1 if last else 1
    content = canonical_text(
        sheet_as_json(loaded)
        | {
            "decision": decision.value,
            "own_car": is_own_car,
            "sealed_at": act.at.isoformat(),
            "sealed_by": person_as_json(act.by),
            "sequence": sequence,
        }
    )
    return Seal.objects.create(
        sheet=loaded.sheet,
        night=night,
        sequence=sequence,
        decision=decision,
        content=content,
        previous_sha256=previous,
        sha256=chained_hash(previous, content),
        sealed_at=act.at,
        sealed_by=act.by,
        is_own_car=is_own_car,
    )


def first_broken_seal(night: RaceNight) -> Seal | None:
    """
    Walk a night's chain; give the first seal that does not hold.

    Writes nothing.
    """
    seals = list(night.seals.order_by("sequence"))
    place = first_broken(
        Link(
            content=seal.content,
            previous_sha256=seal.previous_sha256,
            sha256=seal.sha256,
        )
        for seal in seals
    )
    return None if place is None else seals[place]
