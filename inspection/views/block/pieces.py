"""
The pieces of the block page that follow the readings.

Each has a tag made of what it says.  A script sends the tags that it has and gets
the pieces that changed, so that an answer stays small and nothing else on the
page is touched: no open fold closes, no half-typed reason is lost.

What is seen at once comes with the answer to a reading.  What is drawn or folded is a
piece of its own, which follows when the hand rests.
"""

import hashlib
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Final

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.functional import cached_property
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from inspection.compute.judging import Outcome
from inspection.loaders.block.next_reading import next_step_of
from inspection.loaders.block.readings import is_struck
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.block.steps import Step, StepGroup
from inspection.loaders.night.own_cars import leaves_to_others
from inspection.loaders.pictures import figures_of
from inspection.views.block.car_views import car_view
from inspection.views.block.found_rules import FoundRule, RuleGroup
from inspection.views.block.rules_of_sheet import rules_of
from inventory.access import signed_in
from inventory.compute.roles import Ability

#: A car on the block has some sixty pieces, of which a reading changes a few.
_TAGS_KEPT: Final = 2_000
#: Stands where a fold's piece will.
_FOLLOWS: Final = '<div id="{}" aria-busy="true"></div>'


@dataclass(frozen=True, kw_only=True)
class Piece:
    """
    One element of the page, by its id, and what it says, told by plain values.

    ``fold_template`` is what the piece that stands folded in it is written with, if
    one does; it says the same.
    """

    key: str
    says: Hashable
    template: str
    context: dict[str, Any] = field(default_factory=dict)
    fold_template: str = ""

    @cached_property
    def tag(self) -> str:
        return _tag_of(self.key, self.says)

    @cached_property
    def fold(self) -> "Piece | None":
        """Give what stands folded in it."""
        if not self.fold_template:
            return None
        return Piece(
            key=f"{self.key}-open",
            says=self.says,
            template=self.fold_template,
            context=self.context,
        )

    @cached_property
    def html(self) -> SafeString:
        """Write the whole of it."""
        return self._rendered(is_whole=True)

    @cached_property
    def seen(self) -> SafeString:
        """Write what is seen at once: in place of its fold stands that it follows."""
        return self._rendered(is_whole=False)

    def _rendered(self, *, is_whole: bool) -> SafeString:
        return render_to_string(
            f"inspection/block/pieces/{self.template}.html",
            {
                **self.context,
                "key": self.key,
                "tag": self.tag,
                "folded": self._folded(is_whole=is_whole),
            },
        )

    def _folded(self, *, is_whole: bool) -> SafeString:
        if self.fold is None:
            return SafeString()
        return self.fold.html if is_whole else format_html(_FOLLOWS, self.fold.key)


@lru_cache(maxsize=_TAGS_KEPT)
def _tag_of(key: str, says: Hashable) -> str:
    return hashlib.sha256(repr((key, says)).encode()).hexdigest()[:8]


def pieces_of(
    request: HttpRequest, loaded: LoadedSheet, steps: tuple[Step, ...]
) -> dict[str, list[Piece]]:
    """Give what is seen at once, by the part of the page that it stands in."""
    rules = rules_of(loaded)
    token = get_token(request)
    return {
        "verdict": [_verdict(request, loaded, rules, token)],
        "rules": [_rule(rule, loaded) for rule in rules],
        "tonight": _rows(loaded, steps, token, StepGroup.TONIGHT),
        "also": _rows(loaded, steps, token, StepGroup.ALSO),
        "stored": _rows(loaded, steps, token, StepGroup.STORED),
    }


def pieces_that_follow(
    pieces: dict[str, list[Piece]], loaded: LoadedSheet
) -> list[Piece]:
    """Give what is folded and what is drawn."""
    folds = [one.fold for part in pieces.values() for one in part if one.fold]
    return [*folds, *views_of(loaded)]


def changed_pieces(pieces: Iterable[Piece], have: Iterable[str]) -> dict[str, Piece]:
    """Give the pieces, by id, of which a page does not have the tag."""
    known = set(have)
    return {piece.key: piece for piece in pieces if piece.tag not in known}


def rules_told(pieces: Iterable[Piece]) -> list[FoundRule]:
    """Give the rules among some pieces that found something to be said aloud."""
    rules = (one.context["rule"] for one in pieces if one.template == "rule")
    return [one for one in rules if one.found.outcome is not Outcome.NOT_MEASURED]


def rule_groups(rules: Iterable[Piece]) -> list[tuple[RuleGroup, list[Piece]]]:
    """Give the rules as they are listed: what fails first, what holds last."""
    listed = list(rules)
    return [
        (group, [one for one in listed if one.context["rule"].group is group])
        for group in RuleGroup
    ]


def _rule(rule: FoundRule, loaded: LoadedSheet) -> Piece:
    return Piece(
        key=f"rule-{rule.found.rule.pk}",
        says=rule.says,
        template="rule",
        context={"rule": rule, "sheet": loaded.sheet},
        fold_template="rule_open",
    )


def _rows(
    loaded: LoadedSheet, steps: tuple[Step, ...], token: str, group: StepGroup
) -> list[Piece]:
    return [_row(loaded, step, token) for step in steps if step.group is group]


def _row(loaded: LoadedSheet, step: Step, token: str) -> Piece:
    return Piece(
        key=f"step-{step.column}",
        says=(
            step.value,
            tuple((one.pk, is_struck(one)) for one in step.readings),
            tuple(one.pk in loaded.doubtful_ids for one in step.readings),
        ),
        template="step",
        context={
            "step": step,
            "sheet": loaded.sheet,
            "in_doubt": loaded.doubtful_ids,
            "csrf_token": token,
        },
        fold_template="step_open" if step.readings else "",
    )


def _verdict(
    request: HttpRequest, loaded: LoadedSheet, rules: list[FoundRule], token: str
) -> Piece:
    failing = [rule for rule in rules if rule.is_failing]
    next_up = next_step_of(loaded)
    missing = [r for r in loaded.refused if r.outcome is Outcome.NOT_MEASURED]
    return Piece(
        key="verdict",
        says=(
            tuple((rule.found.rule.pk, rule.says) for rule in failing),
            tuple(finding.rule.pk for finding in missing),
            tuple(value.column for value in loaded.conflicts),
            loaded.unread,
            loaded.may_be_sent_back,
            loaded.doubts,
            next_up,
            loaded.unconfirmed,
            # What stands in for a reading until it is read: before the seal it is
            # the last thing told.
            tuple((value.column, value.text) for value in loaded.standing_in),
            tuple(finding.outcome.value for finding in loaded.findings),
        ),
        template="verdict",
        context={
            "loaded": loaded,
            "sheet": loaded.sheet,
            "failing": failing,
            "missing": missing,
            "next": next_up,
            "advised": [rule for rule in rules if rule.is_advice],
            "near": [rule for rule in rules if rule.is_near],
            "is_own_car": leaves_to_others(
                signed_in(request), loaded.sheet, Ability.SEAL_SHEETS
            ),
            "may_send_back_by_word": signed_in(request).may(Ability.SEND_BACK_BY_WORD),
            "met_count": sum(finding.is_admitted for finding in loaded.findings),
            "csrf_token": token,
        },
    )


def views_of(loaded: LoadedSheet) -> Iterator[Piece]:
    """Give the drawings of the car."""
    figures = figures_of(loaded)
    for key in ("rear-view", "side-view"):
        svg, sentences = car_view(key, figures)
        yield Piece(
            key=key,
            says=svg,
            template="view",
            context={
                "svg": mark_safe(svg),  # noqa: S308
                "is_rear": key == "rear-view",
                "sentences": sentences,
            },
        )
