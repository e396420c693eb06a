"""The report to the race director: who may start, who not and why, what came after."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Model
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inspection.compute.night import EntryState, Standing, standing_of
from inspection.compute.rulebooks import Force
from inspection.loaders.night.board import BoardRow, load_board
from inspection.models import (
    EditionMove,
    Entry,
    EntryMove,
    Finding,
    NightReport,
    ProtestRuled,
    RaceClass,
    RaceNight,
    SheetRuling,
)
from inventory.words.enumerations import word_of

#: So many broken rules stand in a car's line; the sheet has them all.
_IN_A_LINE = 3
_RULED_STATES = (
    EntryState.PASSED,
    EntryState.SENT_BACK,
    EntryState.WITHDRAWN,
)


@dataclass(frozen=True, kw_only=True)
class ReportLine:
    """One car: whether it may start, and why not."""

    entry: Entry
    standing: Standing
    why: str
    is_held: bool
    is_checked_after: bool
    sheet: str
    is_by_concerned: bool
    was: str

    @property
    def is_changed(self) -> bool:
        """It stands otherwise than when the report was given out."""
        return self.was not in {"", self.standing.value}


@dataclass(frozen=True, kw_only=True)
class ReportGroup:
    """The cars of one class that stand alike, by their numbers."""

    standing: Standing
    lines: tuple[ReportLine, ...]


@dataclass(frozen=True, kw_only=True)
class ReportClass:
    """One class, those who may start first."""

    race_class: RaceClass
    groups: tuple[ReportGroup, ...]


@dataclass(frozen=True, kw_only=True)
class Amendment:
    """What was ruled after the report was given out, in the order of time."""

    number: int
    at: dt.datetime
    of: str
    says: str
    by: str


@dataclass(frozen=True, kw_only=True)
class Report:
    """How a night's cars stand now, and what changed since that was given out."""

    night: RaceNight
    given: NightReport | None
    classes: tuple[ReportClass, ...]
    amendments: tuple[Amendment, ...]

    @property
    def lines(self) -> Iterator[ReportLine]:
        """All cars, class by class."""
        for one in self.classes:
            for group in one.groups:
                yield from group.lines


def load_report(night: RaceNight, now: dt.datetime) -> Report:
    """Load how each car of a night stands, and every ruling since the report."""
    board = load_board(night, now)
    rows = [row for group in board.groups for row in group.rows]
    given: NightReport | None = getattr(night, "report", None)
    before: Mapping[str, str] = given.standings if given else {}
    broken = broken_rules(rows)
    lines = [_line(row, broken, before, is_given=bool(given)) for row in rows]
    return Report(
        night=night,
        given=given,
        classes=_by_class(lines),
        amendments=_amendments(night, given) if given else (),
    )


def standings_of(report: Report) -> dict[str, str]:
    """Give how each car stands, as it is kept."""
    return {str(line.entry.pk): line.standing.value for line in report.lines}


def broken_rules(rows: Iterable[BoardRow]) -> dict[int, list[str]]:
    """Say which rules that bind the last sheet of each entry breaks, by the sheet."""
    broken = Finding.objects.filter(
        sheet__in=[row.sheet_id for row in rows if row.sheet_id is not None],
        is_admitted=False,
        rule__force=Force.MANDATORY,
    )
    rules_by_sheet: dict[int, list[str]] = defaultdict(list)
    for one in broken.select_related("rule").order_by("rule__position"):
        filled_in = {
            "number": one.rule.number,
            "sentence": one.rule.sentence,
            "outcome": word_of(one.outcome),
        }
        rules_by_sheet[one.sheet_id].append(
            _("rule %(number)s %(sentence)s (%(outcome)s)") % filled_in
        )
    return rules_by_sheet


def _line(
    row: BoardRow,
    broken: Mapping[int, list[str]],
    before: Mapping[str, str],
    *,
    is_given: bool,
) -> ReportLine:
    questions = _questions(row)
    state = row.entry.state
    standing = standing_of(state, is_in_question=bool(questions))
    why = list(questions) if standing is Standing.IN_QUESTION else []
    if state is EntryState.SENT_BACK:
        # In question too it is still refused by these until somebody has ruled.
        rules = broken.get(row.sheet_id or 0, [])
        more = len(rules) - _IN_A_LINE
        why += rules[:_IN_A_LINE]
        if more > 0:
            why.append(_("and %(n)s more") % {"n": more})
    if state in {EntryState.SENT_BACK, EntryState.WITHDRAWN} and row.reason:
        why.append(row.reason)
    return ReportLine(
        entry=row.entry,
        standing=standing,
        why="; ".join(why),
        is_held=row.is_held,
        is_checked_after=row.is_checked_after,
        # What a waiting car was measured by before is void: it is not checked yet.
        sheet="" if state is EntryState.WAITING else row.sheet_number,
        is_by_concerned=row.is_by_concerned,
        was=before.get(str(row.entry.pk), "not entered" if is_given else ""),
    )


def _questions(row: BoardRow) -> list[str]:
    """Say what of a sealed car nobody has ruled yet."""
    sentences = [
        _("in doubt: %(gauge)s failed its check") % {"gauge": name}
        for name in row.in_doubt
    ]
    if row.protests:
        words = ngettext(
            "%(n)s protest not ruled yet", "%(n)s protests not ruled yet", row.protests
        )
        sentences.append(words % {"n": row.protests})
    if row.is_protest_upheld:
        sentences.append(_("a protest was upheld: to be checked again"))
    if row.is_judged_otherwise:
        sentences.append(_("the new edition decides otherwise"))
    if row.is_changed_since:
        sentences.append(_("changed since it passed"))
    return sentences


def _by_class(lines: list[ReportLine]) -> tuple[ReportClass, ...]:
    order = list(Standing)
    rank = sorted(
        lines,
        key=lambda line: (
            line.entry.race_class.name,
            order.index(line.standing),
            _counted(line.entry.number),
        ),
    )
    return tuple(
        ReportClass(
            race_class=race_class,
            groups=tuple(
                ReportGroup(standing=standing, lines=tuple(some))
                for standing, some in groupby(of_class, lambda line: line.standing)
            ),
        )
        for race_class, of_class in groupby(rank, lambda line: line.entry.race_class)
    )


def _counted(number: str) -> tuple[int, str]:
    """Order numbers as people count."""
    figures = number[: len(number) - len(number.lstrip("0123456789"))]
    return int(figures or 0), number


def _amendments(night: RaceNight, given: NightReport) -> tuple[Amendment, ...]:
    """Give each its number: all that was ruled after the report, the oldest first."""
    events = sorted(_events(night, given.at), key=lambda event: event[:3])
    return tuple(
        Amendment(number=number, at=at, of=of, says=says, by=str(by))
        for number, (at, _kind, _pk, of, says, by) in enumerate(events, 1)
    )


_Event = tuple[dt.datetime, int, int, str, str, Model]


def _events(night: RaceNight, since: dt.datetime) -> Iterator[_Event]:
    moves = EntryMove.objects.filter(
        entry__night=night, at__gt=since, to_state__in=_RULED_STATES
    )
    for move in moves.select_related("entry__car", "entry__race_class", "by"):
        why = f": {move.reason}" if move.reason else ""
        states = {"state": word_of(move.to_state), "was": word_of(move.from_state)}
        says = _("%(state)s (was %(was)s)") % states + why
        yield move.at, 0, move.pk, str(move.entry), says, move.by
    ruled = ProtestRuled.objects.filter(protest__entry__night=night, at__gt=since)
    for one in ruled.select_related(
        "protest__entry__car", "protest__entry__race_class", "by"
    ):
        filled_in = {"ruling": word_of(one.ruling), "why": one.reason}
        says = _("protest %(ruling)s: %(why)s") % filled_in
        yield one.at, 1, one.pk, str(one.protest.entry), says, one.by
    rulings = SheetRuling.objects.filter(sheet__entry__night=night, at__gt=since)
    for ruling in rulings.select_related(
        "sheet__entry__car", "sheet__entry__race_class", "by"
    ):
        filled_in = {
            "sheet": ruling.sheet.number,
            "ruling": word_of(ruling.ruling),
            "why": ruling.reason,
        }
        says = _("sheet %(sheet)s %(ruling)s: %(why)s") % filled_in
        yield ruling.at, 2, ruling.pk, str(ruling.sheet.entry), says, ruling.by
    editions = EditionMove.objects.filter(night=night, at__gt=since)
    for edition in editions.select_related("race_class", "after__rulebook", "by"):
        filled_in = {"edition": str(edition.after), "why": edition.reason}
        says = _("races by %(edition)s from now on: %(why)s") % filled_in
        yield edition.at, 3, edition.pk, str(edition.race_class), says, edition.by
