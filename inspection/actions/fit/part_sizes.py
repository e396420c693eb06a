"""What is said of a part where it sits: by who has it on their car."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.fit.on_car import begin_change, fitted_at
from inspection.compute.night import PartPosition
from inspection.models import Car
from inventory.actions.audit import Act, record_event
from inventory.actions.readings import TypedSizes, record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.compute.numbers import Unit
from inventory.compute.roles import Ability
from inventory.compute.stock import PART_SCALES, FactValue
from inventory.models import Part, facts_model


@dataclass(frozen=True, kw_only=True)
class SaidOfPart:
    """Facts of a part by name, and its sizes as they were typed."""

    sizes: TypedSizes
    facts: Mapping[str, FactValue] = field(default_factory=dict)


@transaction.atomic
def say_of_part(
    car: Car, position: PartPosition, statement: SaidOfPart, *, act: Act
) -> Part:
    """
    Say facts and sizes of the part that sits in a place of a car.

    Of the club's parts whoever has one on their car says what is not known yet; what
    is known is the keeper's to correct, and of an own part its owner's.  Writes the
    part's facts and what ``record_part_readings`` writes; audits ``part.described``.
    Raises RefusedError for a place that is empty, or something that is known.
    """
    begin_change(car, act)
    part = fitted_at(car, position)
    if part.owner_id != act.by.pk and not act.by.may(Ability.KEEP_PARTS):
        _refuse_known(part, statement)
    facts = facts_model(part.kind)._default_manager.filter(part=part)
    before = {name: getattr(getattr(part, part.kind), name) for name in statement.facts}
    changed = {
        name: now for name, now in statement.facts.items() if now != before[name]
    }
    if changed:
        facts.update(**changed)
        record_event(
            "part.described",
            subject=part,
            act=act,
            before={name: before[name] for name in changed},
        )
    for quantity, texts in statement.sizes.texts.items():
        is_length = PART_SCALES[quantity].unit is Unit.MILLIMETRE
        gauge = statement.sizes.gauge if is_length else None
        record_part_readings(part, quantity, texts, gauge=gauge, act=act)
    Car.objects.filter(pk=car.pk).update(changed_at=act.at)
    return part


def _refuse_known(part: Part, statement: SaidOfPart) -> None:
    known: set[str] = set(
        part.estimates.current()
        .filter(quantity__in=list(statement.sizes.texts))
        .values_list("quantity", flat=True)
    )
    facts = getattr(part, part.kind)
    known |= {
        name
        for name, now in statement.facts.items()
        if getattr(facts, name) and getattr(facts, name) != now
    }
    if known:
        names = ", ".join(sorted(name.replace("_", " ") for name in known))
        raise RefusedError(
            code="known_already",
            sentence=_(
                "Part %(tag)s is the club's, and its %(names)s is known: the keeper "
                "corrects it."
            )
            % {"tag": part.tag, "names": names},
        )
