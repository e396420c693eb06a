"""Facts of a part put right: what stood there before stays beside it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.corrections.strikes import restate
from inventory.actions.refusals import RefusedError, reason_given
from inventory.compute.stock import KINDS, FactValue, PartQuantity
from inventory.models import FactChange, Part, facts_model

_DRAWER: Final = "drawer"


@dataclass(frozen=True, kw_only=True)
class PartCorrection:
    """What a part is said to be, why, and the version of it that was looked at."""

    name: str
    drawer: str
    version: int
    facts: Mapping[str, FactValue] = field(default_factory=dict)
    reason: str = ""


@transaction.atomic
def correct_part(part: Part, correction: PartCorrection, *, act: Act) -> None:
    """
    Put right what is said of a part.

    Writes the Part and its facts if nobody else has changed it since it was looked
    at, a FactChange a fact, and of a gear with other teeth its diameter anew; audits
    ``part.corrected``.  Raises RefusedError when somebody has, when a fact is said
    that the part cannot have, or without a reason for more than another drawer.
    """
    _refuse_odd_facts(part, correction)
    changed = _changes(part, correction)
    if not changed:
        return
    # To lay it elsewhere puts nothing right.
    needs_reason = set(changed) != {_DRAWER}
    reason = (
        reason_given(correction.reason) if needs_reason else correction.reason.strip()
    )
    written = Part.objects.filter(pk=part.pk, version=correction.version).update(
        name=correction.name, drawer=correction.drawer, version=F("version") + 1
    )
    if not written:
        raise RefusedError(
            code="changed_since",
            sentence=_(
                "Somebody has changed part %(tag)s since you opened it; look at it "
                "again."
            )
            % {"tag": part.tag},
        )
    facts = {name: value for name, value in correction.facts.items() if name in changed}
    if facts:
        table = facts_model(part.kind)
        table._default_manager.filter(part=part).update(**facts)
    FactChange.objects.bulk_create(
        FactChange(
            part=part,
            fact=name,
            before=before,
            after=after,
            reason=reason,
            at=act.at,
            by=act.by,
        )
        for name, (before, after) in changed.items()
    )
    if "teeth" in facts:
        _read_over_other_teeth(part, act)
    record_event(
        "part.corrected",
        subject=part,
        act=act,
        reason=reason,
        before={name: before for name, (before, _now) in changed.items()},
    )


def _refuse_odd_facts(part: Part, correction: PartCorrection) -> None:
    for fact in KINDS[part.kind].fact_list:
        if fact.only_of is None or not correction.facts.get(fact.name):
            continue
        other, value = fact.only_of
        if correction.facts.get(other) != value:
            raise RefusedError(
                code="only_of",
                sentence=_("“%(one)s” was typed; %(refusal)s")
                % {"one": correction.facts[fact.name], "refusal": _(fact.refusal)},
                field=fact.name,
            )


def _changes(part: Part, correction: PartCorrection) -> dict[str, tuple[str, str]]:
    """Give what is said otherwise than it stands, as it stood and as it is said."""
    facts = getattr(part, part.kind)
    stands = {"name": part.name, _DRAWER: part.drawer}
    stands |= {name: getattr(facts, name) for name in correction.facts}
    now = {"name": correction.name, _DRAWER: correction.drawer, **correction.facts}
    both = {name: (_text(stands[name]), _text(now[name])) for name in now}
    return {name: (was, is_) for name, (was, is_) in both.items() if was != is_}


def _text(value: FactValue) -> str:
    return "" if value is None else str(value)


def _read_over_other_teeth(part: Part, act: Act) -> None:
    # What flat jaws read over the teeth makes another diameter with other teeth.
    current = part.estimates.current().filter(quantity=PartQuantity.GEAR_DIAMETER)
    for estimate in current:
        restate(estimate, list(estimate.readings.all()), act=act)
