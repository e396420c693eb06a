"""A drawer counted: started, ticked, closed with the difference as a record."""

from collections.abc import Collection

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.drawers.laying import lay_parts
from inventory.actions.refusals import RefusedError
from inventory.compute.stock import Counted, PartState, tag_in
from inventory.loaders.drawers import expected_in
from inventory.models import (
    Part,
    SetMember,
    Stocktake,
    StocktakeLine,
    StocktakeTick,
)


@transaction.atomic
def start_stocktake(drawer: str, *, act: Act) -> Stocktake:
    """
    Start to count a drawer.

    Writes a Stocktake; audits ``stocktake.started``.  Raises RefusedError without a
    drawer, or while somebody counts it.
    """
    place = drawer.strip()
    if not place:
        raise RefusedError(
            code="no_drawer", sentence=_("Say which drawer is counted."), field="drawer"
        )
    try:
        with transaction.atomic():
            made = Stocktake.objects.create(drawer=place, started_at=act.at, by=act.by)
    except IntegrityError as error:
        raise RefusedError(
            code="counted_already",
            sentence=_("Drawer %(place)s is being counted already; go on there.")
            % {"place": place},
            field="drawer",
        ) from error
    record_event("stocktake.started", subject=f"stocktake {made.pk}", act=act)
    return made


@transaction.atomic
def tick_parts(
    stocktake: Stocktake,
    *,
    there: Collection[str],
    not_there: Collection[str] = (),
    act: Act,
) -> None:
    """
    Note what lies in the drawer that is counted, and what does not after all.

    ``there`` are tags as they are printed, in small letters too, or the addresses
    that labels hold; a bag's label is of all that is in it.  What is no part's tag is
    noted as it was typed.  Writes StocktakeTicks; audits ``stocktake.ticked``.
    Raises RefusedError once it is closed.
    """
    _refuse_closed(stocktake)
    typed = _out_of_bags([tag_in(tag) for tag in there])
    asked = {*typed, *(tag.upper() for tag in typed)}
    parts = {one.tag: one for one in Part.objects.of_the_club().filter(tag__in=asked)}
    read = {
        tag if tag in parts or tag.upper() not in parts else tag.upper()
        for tag in typed
    }
    StocktakeTick.objects.filter(stocktake=stocktake, tag__in=not_there).delete()
    StocktakeTick.objects.bulk_create(
        (
            StocktakeTick(stocktake=stocktake, tag=tag[:40], part=parts.get(tag))
            for tag in sorted(read)
        ),
        ignore_conflicts=True,
    )
    record_event(
        "stocktake.ticked",
        subject=f"stocktake {stocktake.pk}",
        act=act,
        there=len(read),
        not_there=len(not_there),
    )


@transaction.atomic
def close_stocktake(stocktake: Stocktake, *, act: Act) -> None:
    """
    Close a stocktake: what was found, what is missing, what is there too many.

    Writes a StocktakeLine a part and the Stocktake's end; audits
    ``stocktake.closed``.  Raises RefusedError once it is closed.
    """
    _refuse_closed(stocktake)
    ticks = {one.tag: one.part for one in stocktake.ticks.select_related("part")}
    expected = {one.tag: one for one in expected_in(stocktake.drawer)}
    lines = [
        _line(stocktake, tag, part, Counted.FOUND if tag in ticks else Counted.MISSING)
        for tag, part in expected.items()
    ]
    lines += [
        _line(stocktake, tag, part, Counted.SURPLUS)
        for tag, part in ticks.items()
        if tag not in expected
    ]
    StocktakeLine.objects.bulk_create(lines)
    Stocktake.objects.filter(pk=stocktake.pk).update(closed_at=act.at, closed_by=act.by)
    counts = {word.value: sum(one.counted == word for one in lines) for word in Counted}
    record_event(
        "stocktake.closed", subject=f"stocktake {stocktake.pk}", act=act, **counts
    )


@transaction.atomic
def drop_stocktake(stocktake: Stocktake, *, act: Act) -> None:
    """
    Give a stocktake up before it is closed.

    Deletes the Stocktake and its ticks; audits ``stocktake.dropped``.  Raises
    RefusedError once it is closed.
    """
    _refuse_closed(stocktake)
    record_event("stocktake.dropped", subject=f"stocktake {stocktake.pk}", act=act)
    Stocktake.objects.filter(pk=stocktake.pk).delete()


@transaction.atomic
def lay_surplus(stocktake: Stocktake, *, act: Act) -> int:
    """
    Let the stock say of the surplus of a stocktake that it lies where it was found.

    Writes what `lay_parts` writes; audits ``parts.laid``.  Raises RefusedError where
    no part of it lies elsewhere.
    """
    lines = stocktake.lines.filter(
        counted=Counted.SURPLUS, part__state=PartState.IN_STOCK
    )
    tags = list(lines.values_list("part__tag", flat=True))
    return lay_parts(tags, stocktake.drawer, act=act)


def _refuse_closed(stocktake: Stocktake) -> None:
    # Locked: who ticks and who closes wait for each other.
    still = Stocktake.objects.select_for_update().filter(
        pk=stocktake.pk, closed_at=None
    )
    if not still:
        raise RefusedError(
            code="closed",
            sentence=_("The stocktake of drawer %(drawer)s is closed; start another.")
            % {"drawer": stocktake.drawer},
        )


def _line(
    stocktake: Stocktake, tag: str, part: Part | None, counted: Counted
) -> StocktakeLine:
    return StocktakeLine(
        stocktake=stocktake,
        tag=tag,
        part=part,
        counted=counted,
        drawer=part.drawer if part else "",
        state=part.state if part else "",
    )


def _out_of_bags(tags: Collection[str]) -> list[str]:
    """Put in a bag's place the parts that are in it."""
    inside: dict[str, list[str]] = {}
    members = SetMember.objects.filter(
        part_set__tag__in={tag.upper() for tag in tags}, ended_at=None
    )
    for bag, part in members.values_list("part_set__tag", "part__tag"):
        inside.setdefault(bag, []).append(part)
    return [part for tag in tags for part in inside.get(tag.upper(), [tag])]
