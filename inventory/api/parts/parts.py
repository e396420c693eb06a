"""Parts: found, taken in, measured, put right."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404

from inventory.actions.corrections.facts import correct_part
from inventory.actions.corrections.strikes import strike_part_reading
from inventory.actions.readings import receive_measured, record_part_readings
from inventory.actions.stock import may_keep
from inventory.api.foundation.cursors import Order
from inventory.api.foundation.operations import Call, lists, makes, reads, writes
from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.api.foundation.shapes import form_data
from inventory.api.parts.gives import EstimateMade, PartLine, PartShown, PartsMade
from inventory.api.parts.takes import (
    CorrectedSaid,
    MeasuredSaid,
    NewPartSaid,
    OwnPartSaid,
    SearchSaid,
    StruckSaid,
)
from inventory.compute.numbers import Unit
from inventory.compute.roles import Ability
from inventory.compute.stock import PartKind
from inventory.compute.tokens import Scope
from inventory.forms.corrections import CorrectPartForm
from inventory.forms.stock import (
    MeasurePartForm,
    NewPartForm,
    OwnSpareForm,
    as_tag,
)
from inventory.loaders.gauges import load_gauges
from inventory.loaders.parts import (
    PartSearch,
    counted_readings,
    find_parts,
    parts_open_to,
)
from inventory.models import Part, PartEstimate
from inventory.models.parts import PartQuerySet

_KEEPS: Mapping[str, Any] = {"asks": Ability.KEEP_PARTS, "scope": Scope.PARTS}
_MOVES = 30


@lists(
    PartLine,
    order=Order(columns={"tag": "tag", "received_at": "received_at"}, usual="tag"),
    query=SearchSaid,
)
def list_parts(call: Call) -> PartQuerySet:
    """Find parts by their words and facts; retired ones only where that is asked."""
    query = dict(call.said)
    words, is_mine = as_tag(query.pop("q")), query.pop("mine")
    search = PartSearch(words=words, held_by=call.person if is_mine else None, **query)
    return find_parts(search).listed_for(call.person)


@reads(PartShown)
def show_part(call: Call, tag: str) -> dict[str, Any]:
    """Tell of a part: what it is, its sizes now with their readings, its moves."""
    return told(call, tag)


@makes(
    PartsMade,
    takes=NewPartSaid,
    example={
        "kind": "tyre",
        "facts": {"compound": "soft"},
        "sizes": {"tyre_diameter": ["20.11", "20.12"]},
        "gauge": 0,
        "drawer": "A 1",
    },
    **_KEEPS,
)
def take_in_parts(call: Call) -> dict[str, Any]:
    """Take parts that are alike into stock, each with the same sizes."""
    form = NewPartForm(_typed(call.said), **_about(call))
    refuse_form(form)
    new, count = form.new_part(), form.chosen_count
    made = receive_measured(new, form.typed_sizes, count=count, act=call.act)
    return {"tags": [part.tag for part in made]}


@makes(
    PartsMade,
    asks=Ability.LOOK,
    scope=Scope.PARTS,
    takes=OwnPartSaid,
    example={"kind": "tyre", "facts": {"compound": "soft"}, "shared": True},
)
def take_in_own_parts(call: Call) -> dict[str, Any]:
    """Take spares of one's own in, beside the club's."""
    form = OwnSpareForm(_typed(call.said), **_about(call))
    refuse_form(form)
    new = replace(
        form.new_part(), owner=call.person, is_shared=form.cleaned_data["shared"]
    )
    count = form.chosen_count
    made = receive_measured(new, form.typed_sizes, count=count, act=call.act)
    return {"tags": [part.tag for part in made]}


@makes(
    EstimateMade,
    asks=Ability.LOOK,
    scope=Scope.PARTS,
    takes=MeasuredSaid,
    example={"quantity": "tyre_diameter", "texts": ["20.11", "20.12"], "gauge": 0},
)
def measure_part(call: Call, tag: str) -> PartEstimate:
    """Record one person's readings of one quantity of a part, off one gauge."""
    part, body = part_of(call, tag), call.said
    if not may_keep(part, call.person):
        raise PermissionDenied
    kind, gauges = part.kind, load_gauges(call.act.at)
    typed = {"quantity": body["quantity"], "gauge": body["gauge"]}
    typed |= {"texts": " ".join(body["texts"])}
    typed |= {"right": "on"} if body["confirmed"] else {}
    form = MeasurePartForm(typed, gauges=gauges, kind=kind)
    refuse_form(form)
    return record_part_readings(
        part,
        form.chosen_quantity,
        body["texts"],
        gauge=form.chosen_gauge,
        act=call.act,
    )


def _lock(call: Call, tag: str) -> None:
    list(Part.objects.select_for_update().filter(tag=tag))


@writes(
    PartShown,
    takes=CorrectedSaid,
    guarded_by=show_part,
    locks=_lock,
    example={"name": "front left", "reason": "it was read wrongly"},
    **_KEEPS,
)
def correct_a_part(call: Call, tag: str) -> dict[str, Any]:
    """Put right what is said of a part; what stood there stays beside it."""
    part, body = part_of(call, tag), call.said
    typed = dict(body["facts"]) | {
        name: body[name] for name in ("name", "drawer", "reason")
    }
    typed["version"] = part.version
    form = CorrectPartForm(
        {f"correct-{name}": value for name, value in typed.items()}, part=part
    )
    refuse_form(form)
    correct_part(part, form.said(), act=call.act)
    return told(call, tag)


@writes(
    PartShown,
    takes=StruckSaid,
    example={"reading": 1, "reason": "the jaws were dirty"},
    **_KEEPS,
)
def strike_reading_of_part(call: Call, tag: str) -> dict[str, Any]:
    """Strike a reading of a part, with a reason; those that are left count."""
    key = call.said["reading"]
    counted = {one.pk: one for one in counted_readings(part_of(call, tag))}
    if key not in counted:
        wrong = f"Part {tag} has no reading {key} that counts."
        raise ProblemError.of_errors(
            422, [FieldError(field="reading", code="unknown", detail=wrong)]
        )
    strike_part_reading(counted[key], reason=call.said["reason"], act=call.act)
    return told(call, tag)


def told(call: Call, tag: str) -> dict[str, Any]:
    """Give all that is told of a part."""
    part = part_of(call, tag)
    with_size = find_parts(PartSearch(state=part.state)).filter(pk=part.pk)
    estimates: QuerySet[PartEstimate] = part.estimates.current()
    moves = part.moves.select_related("by", "to_person").order_by("-id")
    return {
        "part": with_size.get(),
        "estimates": estimates.select_related("by")
        .prefetch_related("readings__strike")
        .order_by("quantity", "-id"),
        "moves": moves[:_MOVES],
    }


def part_of(call: Call, tag: str) -> Part:
    """Give a part that whoever asks may open."""
    part = parts_open_to(call.person).filter(tag=tag).first()
    if part is None:
        msg = f"No part has the tag “{tag}”."
        raise Http404(msg)
    return part


def refuse_form(form: Any) -> None:
    """Refuse what a page's form refuses: 409 where it only asks whether it is right."""
    if form.is_valid():
        return
    problem = ProblemError.of_form(form)
    if getattr(form, "is_doubted", False):
        problem.status, problem.code = 409, "strange"
    raise problem


def _about(call: Call) -> dict[str, Any]:
    gauges = load_gauges(call.act.at, unit=Unit.MILLIMETRE)
    return {"kind": PartKind(call.said["kind"]), "gauges": gauges}


def _typed(body: Mapping[str, Any]) -> dict[str, Any]:
    """Write what was said of a new part as the page's form sends it."""
    names = ("name", "drawer", "tag", "count", "gauge", "shared")
    typed = {name: body[name] for name in names if name in body}
    sizes = {f"size_{key}": " ".join(texts) for key, texts in body["sizes"].items()}
    return form_data({**body["facts"], **sizes, **typed, "right": body["confirmed"]})
