"""What may be set up as a race night."""

import datetime as dt
from collections.abc import Mapping

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from inspection.models import Edition, RaceClass, RaceNight
from inventory.actions.refusals import RefusedError


def check_editions(editions: Mapping[RaceClass, Edition]) -> None:
    """Refuse a night without a class, or with an edition that no class may race by."""
    if not editions:
        raise RefusedError(
            code="no_class", sentence=_("Name at least one class."), field="editions"
        )
    for race_class, edition in editions.items():
        check_edition(race_class, edition, field="editions")


def check_edition(race_class: RaceClass, edition: Edition, *, field: str) -> None:
    """Refuse an edition that a class may not race by."""
    if not edition.is_published or edition.rulebook_id != race_class.rulebook_id:
        raise RefusedError(
            code="edition_not_for_class",
            sentence=_(
                "%(edition)s is not a published edition of the rulebook of "
                "%(race_class)s."
            )
            % {"edition": edition, "race_class": race_class},
            field=field,
        )


def refuse_same_night(name: str, date: dt.date, *, but: int = 0) -> None:
    """Refuse a name that another night of the same day has; part of an action."""
    named = RaceNight.objects.filter(name__iexact=name, date=date)
    if named.exclude(pk=but).exists():
        raise same_night(name, date)


def same_night(name: str, date: dt.date) -> RefusedError:
    """Say that a night is there already."""
    return RefusedError(
        code="night_there",
        sentence=_(
            "“%(name)s” on %(date)s is set up already: open that one, or give "
            "this one another name."
        )
        % {"name": name, "date": date_format(date, "j M Y")},
        field="name",
    )
