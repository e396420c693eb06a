"""Whose hands measure a car: not its owner's, and other ones for a protest."""

from django.utils.translation import gettext as _

from inspection.loaders.block.readings import is_struck
from inspection.loaders.block.steps import gauges_used, in_place_of
from inspection.loaders.night.own_cars import leaves_to_others, somebody_may
from inspection.models import Entry, Sheet, SheetReading
from inventory.actions.audit import Act
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Ability
from inventory.loaders.gauges import LoadedGauge, load_gauges


def refuse_own_car(of: Entry | Sheet, ability: Ability, act: Act) -> bool:
    """
    Refuse whoever owns or drives a car, and their family, where others may act.

    Gives whether who acts is concerned all the same, so that it is marked.  Writes
    nothing; raises RefusedError.
    """
    if leaves_to_others(act.by, of, ability):
        entry = of.entry if isinstance(of, Sheet) else of
        raise RefusedError(
            code="own_car",
            sentence=_(
                "Car %(entry)s is yours or your family’s to race; somebody else puts "
                "it on the block, measures it and seals its sheet."
            )
            % {"entry": entry.number},
        )
    return act.by.pk in of.concerned


def refuse_same_hands(
    before: list[SheetReading],
    column: str,
    gauge: LoadedGauge | None,
    *,
    concerned: frozenset[int],
    act: Act,
) -> None:
    """
    Refuse whoever read it before, and their gauge where there is another one.

    ``before`` are the readings of the sheet that is protested against.  Writes
    nothing; raises RefusedError.  Where nobody else who is not concerned in the car
    may measure, the same person does.
    """
    read = [one for one in before if one.column == column and not is_struck(one)]
    is_same = any(one.by_id == act.by.pk for one in read)
    if is_same and somebody_may(Ability.INSPECT_CARS, but=concerned | {act.by.pk}):
        raise RefusedError(
            code="same_hands",
            sentence=_(
                "%(by)s read “%(label)s” on the sheet that is protested against; for "
                "the protest somebody else reads it."
            )
            % {"by": act.by, "label": read[-1].label},
        )
    used = gauges_used(before, column)
    if gauge is None or gauge.mode.gauge_id not in used:
        return
    others = in_place_of(gauge, load_gauges(act.at), but=used)
    if others:
        raise RefusedError(
            code="same_gauge",
            sentence=_(
                "“%(label)s” was read with %(gauge)s before; for the protest take "
                "another gauge, such as %(gauge_2)s."
            )
            % {
                "label": read[-1].label,
                "gauge": gauge.mode.gauge,
                "gauge_2": others[0].mode.gauge,
            },
            field="gauge",
        )
