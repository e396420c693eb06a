"""Choosing the gauge of a reading: what may be used, and what is in order first."""

from collections.abc import Iterable, Sequence
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _

from inventory.compute.measuring import NOT_FOR_PARTS, GaugeStanding
from inventory.loaders.gauges import LoadedGauge, may_be_chosen
from inventory.words.enumerations import word_of

Choices = Sequence[tuple[Any, Any]]
EMPTY: Final[Choices] = (("", "–"),)


def offer_gauges(
    field: forms.Field,
    gauges: Iterable[LoadedGauge],
    *,
    before: Choices = (),
    after: Choices = (),
) -> dict[int, LoadedGauge]:
    """
    Offer the gauges that may be used and can take a part, those in order first.

    Gives all of them by number: one that is sent all the same, off a page that was
    open when it failed, is refused with a sentence by the action.
    """
    every = [one for one in gauges if one.mode.gauge.instrument not in NOT_FOR_PARTS]
    field.choices = [*before, *map(_choice, every), *after]  # type: ignore[attr-defined]
    shown = map(_choice, may_be_chosen(every))
    field.widget.choices = [*before, *shown, *after]
    add_to_help(field, not_offered(every))
    return {one.mode.pk: one for one in every}


def not_offered(gauges: Iterable[LoadedGauge]) -> str:
    """Say in one line which gauges could take it and may not be used, and why."""
    barred = {
        str(one.mode.gauge): word_of(one.standing) for one in gauges if one.is_barred
    }
    if not barred:
        return ""
    named = ", ".join(f"{name} ({why})" for name, why in barred.items())
    return _("Not offered: %(gauges)s.") % {"gauges": named}


def add_to_help(field: forms.Field, words: str) -> None:
    """Let a field's help end with a sentence; nothing where there is none."""
    if words:
        field.help_text = f"{field.help_text} {words}".strip()


def _choice(one: LoadedGauge) -> tuple[int, str]:
    in_order = one.standing is GaugeStanding.GOOD
    if in_order:
        return one.mode.pk, str(one.mode)
    filled_in = {"gauge": one.mode, "standing": word_of(one.standing)}
    return one.mode.pk, _("%(gauge)s — %(standing)s") % filled_in
