"""
The pieces of the block page that follow the readings.

Each has a tag made of what it says.  A script sends the tags that it has and gets
the pieces that changed, so that an answer stays small and nothing else on the
page is touched: no open fold closes, no half-typed reason is lost.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.functional import cached_property
from django.utils.safestring import SafeString, mark_safe

from inspection.compute.conformity import Outcome
from inspection.drawing.rear_view import describe_rear_view, draw_rear_view
from inspection.drawing.side_view import describe_side_view, draw_side_view
from inspection.loaders.pictures import figures_of
from inspection.loaders.sheets import LoadedSheet
from inspection.loaders.steps import Step, StepGroup
from inspection.views.found_rules import FoundRule, rules_of
from inventory.access import signed_in
from inventory.compute.roles import Role


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One element of the page, by its id."""

    key: str
    says: object
    template: str
    context: dict[str, Any] = field(default_factory=dict)

    @cached_property
    def tag(self) -> str:
        return hashlib.sha256(repr((self.key, self.says)).encode()).hexdigest()[:8]

    @cached_property
    def html(self) -> SafeString:
        return render_to_string(
            f"inspection/pieces/{self.template}.html",
            {**self.context, "key": self.key, "tag": self.tag},
        )


def pieces_of(
    request: HttpRequest, loaded: LoadedSheet, steps: tuple[Step, ...]
) -> dict[str, list[Piece]]:
    """Give the pieces by the part of the page that they stand in."""
    rules = rules_of(loaded)
    token = get_token(request)
    return {
        "verdict": [_verdict(request, loaded, rules, token)],
        "rules": [_rule(rule) for rule in rules],
        "tonight": _rows(loaded, steps, token, StepGroup.TONIGHT),
        "also": _rows(loaded, steps, token, StepGroup.ALSO),
        "stored": _rows(loaded, steps, token, StepGroup.STORED),
        "views": list(_views(loaded)),
    }


def changed_pieces(
    pieces: dict[str, list[Piece]], have: Iterable[str]
) -> dict[str, Piece]:
    """Give the pieces, by id, of which a page does not have the tag."""
    known = set(have)
    every = (piece for part in pieces.values() for piece in part)
    return {piece.key: piece for piece in every if piece.tag not in known}


def sentences_of(pieces: Iterable[Piece]) -> list[str]:
    """Say in words what the rules among some pieces found."""
    rules = (one.context["rule"] for one in pieces if one.template == "rule")
    return [
        render_to_string("inspection/pieces/rule_said.txt", {"rule": rule}).strip()
        for rule in rules
        if rule.found.outcome is not Outcome.NOT_MEASURED
    ]


def _rule(rule: FoundRule) -> Piece:
    key = f"rule-{rule.found.rule.pk}"
    return Piece(key=key, says=rule.says, template="rule", context={"rule": rule})


def _rows(
    loaded: LoadedSheet, steps: tuple[Step, ...], token: str, group: StepGroup
) -> list[Piece]:
    return [
        Piece(
            key=f"step-{step.column}",
            says=(
                step.value,
                [(one.pk, hasattr(one, "strike")) for one in step.readings],
            ),
            template="step",
            context={"step": step, "sheet": loaded.sheet, "csrf_token": token},
        )
        for step in steps
        if step.group is group
    ]


def _verdict(
    request: HttpRequest, loaded: LoadedSheet, rules: list[FoundRule], token: str
) -> Piece:
    failing = [rule for rule in rules if rule.is_failing]
    missing = [r for r in loaded.refused if r.outcome is Outcome.NOT_MEASURED]
    is_own = _is_own_car(request, loaded)
    return Piece(
        key="verdict",
        says=(
            [(rule.found.rule.pk, rule.says) for rule in failing],
            [found.rule.pk for found in missing],
            [value.column for value in loaded.conflicts],
            [found.outcome for found in loaded.findings],
        ),
        template="verdict",
        context={
            "loaded": loaded,
            "sheet": loaded.sheet,
            "failing": failing,
            "missing": missing,
            "advised": [rule for rule in rules if rule.is_advice],
            "is_own_car": is_own,
            "met_count": sum(found.is_admitted for found in loaded.findings),
            "csrf_token": token,
        },
    )


def _is_own_car(request: HttpRequest, loaded: LoadedSheet) -> bool:
    entry, person = loaded.sheet.entry, signed_in(request)
    is_chief = person.has_role(Role.CHIEF_SCRUTINEER)
    return person.pk in {entry.car.owner_id, entry.driver_id} and not is_chief


def _views(loaded: LoadedSheet) -> Iterator[Piece]:
    figures = figures_of(loaded)
    for key, draw, describe in (
        ("rear-view", draw_rear_view, describe_rear_view),
        ("side-view", draw_side_view, describe_side_view),
    ):
        svg = draw(figures)
        yield Piece(
            key=key,
            says=svg,
            template="view",
            context={
                "svg": mark_safe(svg),  # noqa: S308
                "is_rear": key == "rear-view",
                "sentences": describe(figures),
            },
        )
