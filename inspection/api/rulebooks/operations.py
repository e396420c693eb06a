"""Rulebooks: read as their files, taken in as drafts, tried on cars, published."""

import json
from collections.abc import Mapping
from typing import Any

from django.shortcuts import get_object_or_404

from inspection.actions.drafts import discard_draft
from inspection.actions.exchange import import_edition
from inspection.actions.rulebooks import publish_edition
from inspection.api.rulebooks.gives import EditionShown, RulebookShown, TrialShown
from inspection.api.rulebooks.takes import ImportSaid, PublishSaid, TrialAsked
from inspection.compute.rulebooks import Stage
from inspection.files.rulebooks import (
    RulebookFileError,
    checksum,
    read_rulebook,
    write_rulebook,
)
from inspection.loaders.rulebooks.editions import load_edition, rulebook_text
from inspection.loaders.rulebooks.shelf import (
    ShelvedRulebook,
    contradictions_of,
    edition_before,
    load_rulebooks,
)
from inspection.loaders.rulebooks.stored_cars import Choice, load_stored_cars
from inspection.loaders.rulebooks.trials import Trial, try_edition
from inspection.models import Edition, RaceClass, RaceNight
from inspection.words.contradictions import contradiction_words
from inventory.api.foundation.operations import (
    Call,
    ends,
    makes,
    reads,
    reads_all,
    writes,
)
from inventory.api.foundation.problems import FieldError, ProblemError
from inventory.api.foundation.rows import named_row
from inventory.compute.roles import Ability
from inventory.compute.tokens import Scope

_WRITES: Mapping[str, Any] = {"asks": Ability.WRITE_RULEBOOKS, "scope": Scope.ALL}


@reads_all(RulebookShown)
def list_rulebooks(call: Call) -> list[ShelvedRulebook]:
    """List the rulebooks with their classes and editions."""
    return load_rulebooks()


@reads(EditionShown)
def show_edition(call: Call, edition_id: int) -> dict[str, Any]:
    """Tell of an edition as its canonical file."""
    return _told(edition_id)


@makes(
    EditionShown,
    takes=ImportSaid,
    example={"rulebook": {}, "adds_classes": True},
    **_WRITES,
)
def import_rulebook(call: Call) -> dict[str, Any]:
    """Take a rulebook's file in as a draft."""
    try:
        text = read_rulebook(json.dumps(call.said["rulebook"]).encode())
    except RulebookFileError as error:
        wrong = FieldError(field="rulebook", code="no_rulebook", detail=str(error))
        raise ProblemError.of_errors(422, [wrong]) from error
    adds = call.said["adds_classes"]
    return _told(import_edition(text, adds_classes=adds, act=call.act).pk)


@reads(TrialShown, asks=Ability.WRITE_RULEBOOKS, query=TrialAsked)
def try_an_edition(call: Call, edition_id: int) -> Trial:
    """Try an edition on every car's last sealed sheet."""
    edition, body = _edition(edition_id), call.said
    before, key = edition_before(edition), body["race_class"]
    of_class = (
        None
        if key is None
        else named_row(
            RaceClass.objects.filter(rulebook=edition.rulebook), key, field="race_class"
        )
    )
    choice = Choice(
        rulebook_id=edition.rulebook_id,
        stage=Stage(body["stage"]),
        since=body["since"],
        class_id=of_class.pk if of_class else None,
    )
    return try_edition(
        load_edition(edition),
        load_edition(before) if before else None,
        load_stored_cars(choice),
        choice,
    )


@writes(EditionShown, takes=PublishSaid, example={"nights": []}, **_WRITES)
def publish_an_edition(call: Call, edition_id: int) -> dict[str, Any]:
    """Publish a draft; from now on nothing in it can be changed."""
    edition = _edition(edition_id)
    nights = RaceNight.objects.all()
    keys = [named_row(nights, key, field="nights").pk for key in call.said["nights"]]
    publish_edition(edition.pk, night_ids=keys, act=call.act)
    return _told(edition_id)


@ends(**_WRITES)
def discard_an_edition(call: Call, edition_id: int) -> None:
    """Throw a draft away."""
    discard_draft(_edition(edition_id).pk, act=call.act)


def _edition(edition_id: int) -> Edition:
    editions = Edition.objects.select_related("rulebook")
    return get_object_or_404(editions, pk=edition_id)


def _told(edition_id: int) -> dict[str, Any]:
    edition = _edition(edition_id)
    text = rulebook_text(edition)
    faults = () if edition.is_published else contradictions_of(edition, text)
    return {
        "edition": edition,
        "rulebook": json.loads(write_rulebook(text)),
        "sha256": checksum(text),
        "contradictions": [contradiction_words(one) for one in faults],
    }
