"""Publishing and exchange: what is refused, frozen, and comes back the same."""

import hashlib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from inspection.actions.exchange import classes_lacking, import_edition
from inspection.actions.race_nights import close_night
from inspection.actions.rulebooks import draft_edition, publish_edition, race_by_edition
from inspection.compute.rulebooks.requirements import Answer, Evidence, Force, Stage
from inspection.compute.rulebooks.text import RulebookText
from inspection.files.rulebooks import checksum, read_rulebook, write_rulebook
from inspection.loaders.rulebooks.editions import (
    load_edition,
    rule_as_text,
    rulebook_text,
)
from inspection.models import Edition, NightClass, RaceClass, Rule, Rulebook
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow
from tests import builders
from tests.builders import rule

pytestmark = pytest.mark.django_db

EVERY_KIND = (
    rule("1", "weight_car", lower=80, lower_after="79.5", classes=("Saloon",)),
    rule("2", "tyre_diameter_rear", lower="18.000001", upper=22),
    rule("3", "motor_sealed", required=Answer.NO, force=Force.ADVISORY),
    rule(
        "4",
        "motor_axle_offset",
        lower="-0.25",
        upper="0.25",
        stage=Stage.BEFORE,
        condition_key="layout",
        condition_word="in-line",
    ),
    rule("5", "clearance_rear", lower="1.190625", evidence=Evidence.TAKEN_ONLY),
)


@pytest.fixture
def text() -> RulebookText:
    return rulebook_text(builders.make_edition(EVERY_KIND))


def away(text: RulebookText, **said: Any) -> RulebookText:
    """Give the text as another club's rulebook, so that it is not here yet."""
    return replace(text, rulebook="County rules", **said)


def test_edition_with_its_rules_comes_back_as_it_was_written(
    text: RulebookText,
) -> None:
    assert text.rules == EVERY_KIND
    loaded = load_edition(Edition.objects.select_related("rulebook").get())
    assert tuple(rule_as_text(one) for one in loaded.rules) == EVERY_KIND


def test_export_import_export_gives_the_same_bytes(text: RulebookText) -> None:
    sent = write_rulebook(away(text))
    made = import_edition(read_rulebook(sent), adds_classes=False, act=builders.act())
    assert write_rulebook(rulebook_text(made)) == sent
    published = publish_edition(made.pk, act=builders.act())
    assert published.sha256 == hashlib.sha256(sent).hexdigest()
    event = AuditRow.objects.get(event="edition.imported")
    assert event.detail["sha256"] == published.sha256


def test_one_changed_digit_gives_another_checksum(text: RulebookText) -> None:
    first = text.rules[1]
    assert first.lower is not None
    other = replace(first, lower=first.lower + 1)
    changed = replace(text, rules=(text.rules[0], other, *text.rules[2:]))
    assert checksum(changed) != checksum(text)


@pytest.mark.parametrize(
    ("note", "words"), [("", "the same to the digit"), ("x", "something else")]
)
def test_edition_that_is_here_is_not_taken_in_again(
    text: RulebookText, note: str, words: str
) -> None:
    events = AuditRow.objects.count()
    with pytest.raises(RefusedError) as refusal:
        import_edition(replace(text, note=note), adds_classes=False, act=builders.act())
    assert refusal.value.code == "edition_taken"
    assert words in refusal.value.sentence
    assert Edition.objects.count() == 1
    assert AuditRow.objects.count() == events


def test_class_that_the_club_lacks_is_added_only_where_that_is_said(
    text: RulebookText,
) -> None:
    lorries = away(text, rules=(replace(EVERY_KIND[0], classes=("Lorry", "Saloon")),))
    assert classes_lacking(lorries) == ["Lorry"]
    with pytest.raises(RefusedError) as refusal:
        import_edition(lorries, adds_classes=False, act=builders.act())
    assert (refusal.value.code, refusal.value.field) == (
        "class_unknown",
        "adds_classes",
    )
    assert "“Lorry”" in refusal.value.sentence
    assert not Rulebook.objects.filter(name="County rules").exists()
    import_edition(lorries, adds_classes=True, act=builders.act())
    added = RaceClass.objects.get(name="Lorry")
    assert added.rulebook.name == "County rules"


def test_rules_that_exclude_each_other_are_not_published() -> None:
    draft = builders.make_edition(
        [rule("1", "weight_car", lower=80), rule("2", "weight_car", upper=79)],
        published=False,
    )
    with pytest.raises(RefusedError) as refusal:
        publish_edition(draft.pk, act=builders.act())
    assert refusal.value.code == "contradiction"
    assert "1 and 2" in refusal.value.sentence
    draft.refresh_from_db()
    assert not draft.is_published


def test_night_races_by_the_edition_as_soon_as_it_is_published() -> None:
    night = builders.make_night()
    sheet = builders.make_sheet(entry=builders.make_entry(night=night))
    draft = builders.make_edition(EVERY_KIND, published=False)
    publish_edition(draft.pk, night_ids=[night.pk], act=builders.act())
    assert NightClass.objects.get(night=night).edition_id == draft.pk
    sheet.refresh_from_db()
    assert sheet.edition_id != draft.pk
    later = builders.make_sheet(entry=builders.make_entry(night=night))
    assert later.edition_id == draft.pk


def test_publishing_is_taken_back_where_a_night_refuses() -> None:
    night = builders.make_night()
    close_night(night, act=builders.act())
    draft = builders.make_edition(EVERY_KIND, published=False)
    with pytest.raises(RefusedError) as refusal:
        publish_edition(draft.pk, night_ids=[night.pk], act=builders.act())
    assert refusal.value.code == "night_closed"
    draft.refresh_from_db()
    assert not draft.is_published


def test_night_does_not_race_by_a_draft_or_by_another_rulebook(
    text: RulebookText,
) -> None:
    night = builders.make_night()
    draft = builders.make_edition(EVERY_KIND, published=False)
    with pytest.raises(RefusedError) as refusal:
        race_by_edition(draft.pk, night_id=night.pk, act=builders.act())
    assert refusal.value.code == "edition_is_draft"
    county = draft_edition(away(text), act=builders.act())
    publish_edition(county.pk, act=builders.act())
    with pytest.raises(RefusedError) as refusal:
        race_by_edition(county.pk, night_id=night.pk, act=builders.act())
    assert refusal.value.code == "class_not_tonight"


def test_published_edition_is_refused_by_shell_and_by_sql() -> None:
    """The rows themselves are held by tests/architecture/test_kept_rows.py too."""
    edition = builders.make_edition(EVERY_KIND)
    rows = Rule.objects.filter(edition=edition)
    changed = rows[0]
    changed.lower = 1
    attempts: list[Callable[[], object]] = [
        changed.save,
        lambda: rows.update(lower=1),
        rows.delete,
        lambda: Edition.objects.filter(pk=edition.pk).update(published_at=None),
        lambda: connection.cursor().execute("UPDATE inspection_rule SET lower = 1"),
        lambda: connection.cursor().execute("DELETE FROM inspection_ruleclass"),
    ]
    for attempt in attempts:
        with pytest.raises(IntegrityError), transaction.atomic():
            attempt()
    assert checksum(rulebook_text(edition)) == edition.sha256
