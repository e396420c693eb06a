"""The bench: the step at hand, its gauge, and the steps as a script takes them."""

import uuid
from typing import Any

from django.http import HttpRequest
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from inspection.drawing.where_to_measure import draw_where_to_measure
from inspection.forms.block import ReadingForm
from inspection.loaders.block.sheets import quantity_of
from inspection.loaders.block.steps import (
    Step,
    StepKind,
    answered_at_once,
    next_step,
)
from inspection.models import SheetReading
from inspection.words.quantities import how_taken
from inventory.compute.measuring import GaugeStanding
from inventory.forms.gauge_choice import not_offered
from inventory.loaders.gauges import LoadedGauge


def bench_of(
    request: HttpRequest, steps: tuple[Step, ...], form: ReadingForm
) -> dict[str, Any]:
    """Give the step at hand, what was typed for it, and all steps for the script."""
    step = _step_at_hand(steps, form)
    gauge_id = _gauge_id(request, step, form)
    together = answered_at_once(steps)
    return {
        "step": step,
        "form": form,
        "reading_id": form["reading_id"].value() or uuid.uuid4(),
        "gauge_id": gauge_id,
        "gauge_note": _note_of(step, gauge_id),
        "not_offered": _not_offered(step) if step else "",
        "is_interval": _is_interval(request, step, form),
        "picture": picture_of(step) if step else "",
        "at_once": together if step in together and len(together) > 1 else (),
        "done_count": sum(one.is_done for one in steps if one.is_asked),
        "asked_count": sum(one.is_asked for one in steps),
        # Of what is seldom taken a script fetches the picture when it is wanted.
        "pictures": [(one.column, picture_of(one)) for one in steps if one.is_asked],
        "steps_data": {
            "steps": [_step_data(one) for one in steps],
            "gauges": _gauges_data(steps),
        },
    }


def picture_of(step: Step) -> str:
    """Draw where a step is measured."""
    svg = draw_where_to_measure(
        step.quantity.picture, column=step.column, label=step.label
    )
    return mark_safe(svg)  # noqa: S308


def remember_gauge(request: HttpRequest, reading: SheetReading) -> None:
    """Keep the gauge for what is taken with the same kind of instrument."""
    if reading.gauge_mode is None:
        return
    usual = _usual(quantity_of(reading.column).gauges)
    kept = request.session.get("gauges", {})
    if kept.get(usual) != reading.gauge_mode.gauge_id:
        request.session["gauges"] = kept | {usual: reading.gauge_mode.gauge_id}


def standing_sentence(gauge: LoadedGauge) -> str:
    """Say what is wrong with a gauge; nothing when it is in order."""
    if gauge.standing is GaugeStanding.NO_CHECK_TONIGHT:
        return (
            _("No check tonight at zero and at about 20 mm; the sheet will say so.")
            if gauge.mode.unit == "mm"
            else _("No check tonight; the sheet will say so.")
        )
    return ""


def _step_at_hand(steps: tuple[Step, ...], form: ReadingForm) -> Step | None:
    wanted = form["column"].value()
    wanted_step = next((step for step in steps if step.column == wanted), None)
    return wanted_step or next_step(steps)


def _usual(gauges: tuple[Any, ...]) -> str:
    return str(gauges[0]) if gauges else ""


def _gauge_id(request: HttpRequest, step: Step | None, form: ReadingForm) -> int | None:
    if step is None or not step.gauges:
        return None
    typed = form["gauge"].value()
    if typed and str(typed).isdecimal():
        return int(typed)
    kept = request.session.get("gauges", {}).get(_usual(step.quantity.gauges))
    same = [one for one in step.usual_gauges if one.mode.gauge_id == kept]
    return next((one.mode.pk for one in [*same, *step.usual_gauges]), None)


def _not_offered(step: Step) -> str:
    """Say which gauges could take it and may not, and why another may once more."""
    sentences = (not_offered(step.barred), step.not_again_words, step.for_want_words)
    return " ".join(filter(None, sentences))


def _note_of(step: Step | None, gauge_id: int | None) -> str:
    gauges = step.gauges if step else ()
    sentences = (standing_sentence(one) for one in gauges if one.mode.pk == gauge_id)
    return next(sentences, "")


def _is_interval(request: HttpRequest, step: Step | None, form: ReadingForm) -> bool:
    """Whether a step that a slip answers is asked as two slips or a number."""
    if step is None or step.kind is not StepKind.SLIPS:
        return False
    is_typed = form.is_bound and not form["answer"].value()
    return step.limit is None or "slips" in request.GET or is_typed


def _step_data(step: Step) -> dict[str, Any]:
    return {
        "column": step.column,
        "label": step.label,
        "unit": step.quantity.unit.symbol,
        "kind": step.kind.value,
        "how": how_taken(step.quantity),
        "asked": step.is_asked,
        "all": step.at_once.value if step.at_once else "",
        "value": step.text if step.is_done else "",
        "limit": step.limit_text,
        "usual": _usual(step.quantity.gauges),
        "gauges": [one.mode.pk for one in step.gauges],
        "usual_gauges": [one.mode.pk for one in step.usual_gauges],
        "not_offered": _not_offered(step),
    }


def _gauges_data(steps: tuple[Step, ...]) -> dict[int, dict[str, Any]]:
    every = {one.mode.pk: one for step in steps for one in step.gauges}
    return {
        pk: {
            "gauge": one.mode.gauge_id,
            "name": str(one.mode),
            "standing": "" if one.standing == "good" else str(one.standing),
            "note": standing_sentence(one),
        }
        for pk, one in every.items()
    }
