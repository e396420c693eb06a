"""A class that races by another edition from now on, and what that puts in question."""

from django.db import transaction
from django.utils.translation import gettext as _

from inspection.actions.setting_up.nights import check_edition
from inspection.compute.night import Decision
from inspection.loaders.block.sheets import (
    LoadedSheet,
    findings_by,
    load_sheet,
    sheets_to_load,
)
from inspection.loaders.rulebooks.editions import LoadedEdition, load_edition
from inspection.models import (
    Edition,
    EditionMove,
    JudgedAgain,
    NightClass,
    RaceClass,
    RaceNight,
    Sheet,
)
from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given


@transaction.atomic
def move_edition(
    night: RaceNight, race_class: RaceClass, edition: Edition, *, reason: str, act: Act
) -> EditionMove:
    """
    Let a class race by another edition from now on; open sheets keep theirs.

    Writes the NightClass, an EditionMove and a JudgedAgain for each sealed sheet that
    stands and whose decision would be another; audits ``edition.moved``.  Raises
    RefusedError without a reason, when the night is closed, the class does not race,
    or the edition is a draft, of another rulebook or the same one.
    """
    why = reason_given(reason)
    named = _named(night, race_class, edition)
    before = named.edition
    named.edition = edition
    named.save(update_fields=["edition"])
    move = EditionMove.objects.create(
        night=night,
        race_class=race_class,
        before=before,
        after=edition,
        by=act.by,
        at=act.at,
        reason=why,
    )
    judged = _judged(move)
    JudgedAgain.objects.bulk_create(judged)
    record_event(
        "edition.moved",
        subject=named,
        act=act,
        reason=why,
        in_question=[one.sheet.number for one in judged],
    )
    return move


def _named(night: RaceNight, race_class: RaceClass, edition: Edition) -> NightClass:
    # The night's row is locked: no sheet is begun or sealed meanwhile.
    locked = RaceNight.objects.select_for_update().get(pk=night.pk)
    if locked.closed_at is not None:
        raise RefusedError(
            code="night_closed",
            sentence=_("%(locked)s is closed.") % {"locked": locked},
        )
    named = locked.classes.filter(race_class=race_class)
    night_class = named.select_related("race_class", "edition__rulebook").first()
    if night_class is None:
        raise RefusedError(
            code="class_not_tonight",
            sentence=_("%(race_class)s does not race on %(locked)s.")
            % {"race_class": race_class, "locked": locked},
            field="race_class",
        )
    check_edition(race_class, edition, field="edition")
    if night_class.edition_id == edition.pk:
        raise RefusedError(
            code="edition_same",
            sentence=_("%(race_class)s races by %(edition)s already.")
            % {"race_class": race_class, "edition": edition},
            field="edition",
        )
    return night_class


def _judged(move: EditionMove) -> list[JudgedAgain]:
    edition = load_edition(move.after)
    counting = sheets_to_load().counting().order_by("entry", "-id")
    last: dict[int, Sheet] = {}
    for sheet in counting.filter(
        entry__night=move.night, entry__race_class=move.race_class
    ):
        last.setdefault(sheet.entry_id, sheet)
    standing = (load_sheet(sheet) for sheet in last.values() if sheet.is_sealed)
    judged = (_judge(move, edition, loaded) for loaded in standing)
    return [one for one in judged if one is not None]


def _judge(
    move: EditionMove, edition: LoadedEdition, loaded: LoadedSheet
) -> JudgedAgain | None:
    """Give what a sealed sheet would be by another edition, if that is another."""
    refused = [
        finding
        for finding in findings_by(edition, loaded)
        if finding.keeps_from_passing
    ]
    sealed = loaded.sheet.seal.decision
    would_be = Decision.SENT_BACK if refused else Decision.PASSED
    # One that was sent back by word alone is not let pass by another edition.
    by_word = sealed is Decision.SENT_BACK and not loaded.refused
    if would_be is sealed or by_word:
        return None
    rules = ", ".join(f"{one.rule.number} ({one.outcome})" for one in refused)
    return JudgedAgain(
        move=move, sheet=loaded.sheet, decision=would_be, rules=rules[:200]
    )
