"""The rulebooks' pages, from end to end."""

import hashlib
import json
from base64 import b64encode
from collections.abc import Callable
from http import HTTPStatus
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from inspection.actions.rulebooks import add_race_class
from inspection.compute.rulebooks.requirements import Answer, Evidence, Force, Stage
from inspection.files.rulebooks import LARGEST_FILE, checksum, write_rulebook
from inspection.loaders.rulebooks.editions import rulebook_text
from inspection.models import Edition, NightClass, RaceClass, Rule, Rulebook
from inventory.compute.roles import Role
from inventory.models import AuditRow, Person
from tests import builders
from tests.builders import rule
from tests.conftest import QueryGrowth

pytestmark = pytest.mark.django_db
OK, REFUSED, MOVED = (
    HTTPStatus.OK,
    HTTPStatus.UNPROCESSABLE_ENTITY,
    HTTPStatus.FOUND,
)


@pytest.fixture
def chief(client_of: Callable[[Any], Client]) -> Client:
    return client_of(builders.make_person(Role.CHIEF_SCRUTINEER))


@pytest.fixture
def member(client_of: Callable[[Any], Client]) -> Client:
    return client_of(builders.make_person(Role.MEMBER))


@pytest.fixture
def draft() -> Edition:
    return builders.make_edition(published=False)


def at(name: str, *args: object) -> str:
    return reverse(f"inspection:{name}", args=args)


def words(answer: Any) -> str:
    return str(answer.content.decode())


def rule_of(edition: Edition, number: str = "1") -> Rule:
    return edition.rules.get(number=number)


def typed(**said: Any) -> dict[str, Any]:
    return {
        "number": "9",
        "quantity": "weight_body",
        "sentence": "The body weighs 17 g or more.",
        "lower": "17",
        "force": "mandatory",
        "stage": "both",
        "evidence": "either",
    } | said


def test_list_names_what_is_in_force_superseded_and_drafted(member: Client) -> None:
    builders.make_edition()
    builders.make_edition()
    builders.make_edition(published=False)
    page = words(member.get(at("rulebooks")))
    assert [page.count(word) for word in ("In force", "Superseded", "Draft")] == [1] * 3
    assert "New rulebook" not in page


def test_empty_list_says_what_it_is_for(chief: Client, member: Client) -> None:
    assert "No rulebook yet" in words(member.get(at("rulebooks")))
    assert at("new_rulebook") in words(chief.get(at("rulebooks")))


def test_list_asks_the_same_of_the_database_with_more_rows(
    member: Client, same_queries: QueryGrowth
) -> None:
    def add(count: int) -> None:
        for _ in range(count):
            number = Rulebook.objects.count()
            add_race_class(
                f"Class {number}", rulebook_name=f"Book {number}", act=builders.act()
            )
            builders.make_edition()

    same_queries(lambda: member.get(at("rulebooks")), add, at_most=10)


def test_edition_asks_the_same_of_the_database_with_more_rules(
    chief: Client, same_queries: QueryGrowth
) -> None:
    draft = builders.make_edition([], published=False)

    def add(count: int) -> None:
        first = draft.rules.count()
        for number in range(first, first + count):
            chief.post(
                at("new_rule", draft.pk), typed(number=str(number), classes=["Saloon"])
            )

    same_queries(lambda: chief.get(at("edition", draft.pk)), add, at_most=16)
    assert draft.rules.count() == 30


def test_rulebook_is_begun_written_and_published(chief: Client) -> None:
    began = chief.post(
        at("new_rulebook"),
        {
            "name": "Hall rules",
            "decision_rule": "guarded rejection",
            "confidence": "97,5",
            "note": "one\r\ntwo",
        },
    )
    edition = Edition.objects.get()
    assert began.headers["Location"] == at("edition", edition.pk)
    assert str(edition.confidence) == "0.9750"
    assert edition.note == "one\ntwo"
    chief.post(at("add_class", edition.rulebook_id), {"name": "Saloon"})
    chief.post(at("new_rule", edition.pk), typed(classes=["Saloon"]))
    assert rule_of(edition, "9").lower == 17_000_000
    answer = chief.post(at("publish", edition.pk))
    assert answer.status_code == MOVED
    # Back on the page that published it, nothing offers to do it once more.
    again = chief.get(at("publish", edition.pk))
    assert again.headers["Location"] == at("edition", edition.pk)
    edition.refresh_from_db()
    page = words(chief.get(at("edition", edition.pk)))
    assert edition.sha256 in page
    assert "97.5 %" in page
    assert "is not what was published" not in page


def test_rulebook_of_a_name_that_is_taken_is_refused(chief: Client) -> None:
    builders.make_edition()
    said = {"name": "Club rules", "decision_rule": "simple acceptance"}
    answer = chief.post(at("new_rulebook"), said | {"confidence": "95"})
    assert answer.status_code == REFUSED
    assert "already called “Club rules”" in words(answer)
    assert Edition.objects.count() == 1


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ({"decision_rule": ""}, "no silent default"),
        ({"confidence": "50"}, "“50”"),
        ({"confidence": "95.001"}, "“95.001”"),
        ({"confidence": "much"}, "much"),
    ],
)
def test_setting_that_is_wrong_is_named_and_kept_as_typed(
    chief: Client, draft: Edition, said: dict[str, str], word: str
) -> None:
    whole = {"decision_rule": "guarded acceptance", "confidence": "90", "note": "New."}
    address = at("edition_settings", draft.pk)
    answer = chief.post(address, whole | said)
    assert answer.status_code == REFUSED
    assert word in words(answer)
    assert "New." in words(answer)
    draft.refresh_from_db()
    assert draft.decision_rule == "simple acceptance"
    assert chief.post(address, whole).status_code == MOVED
    draft.refresh_from_db()
    assert draft.decision_rule == "guarded acceptance"


def test_class_that_is_taken_is_refused_beside_its_field(chief: Client) -> None:
    race_class = builders.make_class()
    answer = chief.post(at("add_class", race_class.rulebook_id), {"name": "Saloon"})
    assert answer.status_code == REFUSED
    assert "already called “Saloon”" in words(answer)
    blank = chief.post(at("add_class", race_class.rulebook_id), {"name": ""})
    assert blank.status_code == REFUSED
    assert RaceClass.objects.count() == 1


def test_rule_is_written_anew_with_an_inch_mark(chief: Client, draft: Edition) -> None:
    row = rule_of(draft, "2")
    page = words(chief.get(at("rule", row.pk)))
    seen = page.split('name="seen" value="')[1].split('"')[0]
    said = typed(
        number="2",
        quantity="tyre_diameter_rear",
        lower="23/32in",
        upper="",
        seen=seen,
        condition="layout=in-line",
    )
    assert chief.post(at("rule", row.pk), said).status_code == MOVED
    row.refresh_from_db()
    # 23/32 of 25.4 mm.
    assert row.lower == 18_256_250
    assert (row.condition_key, row.condition_word) == ("layout", "in-line")
    assert "18.25625" in words(chief.get(at("rule", row.pk)))
    stale = chief.post(at("rule", row.pk), said)
    assert stale.status_code == REFUSED
    assert "since you opened" in words(stale)


@pytest.mark.parametrize(
    ("said", "word"),
    [
        ({"lower": "heavy"}, "heavy"),
        ({"lower": "17 mm"}, "17 mm"),
        ({"lower": ""}, "lower or an upper limit"),
        ({"upper": "16"}, "above the upper"),
        ({"required": "yes"}, "not an answer"),
        ({"number": "1"}, "rule 1 in"),
        ({"quantity": ""}, "required"),
        ({"sentence": ""}, "required"),
    ],
)
def test_rule_that_is_wrong_is_named_and_kept_as_typed(
    chief: Client, draft: Edition, said: dict[str, str], word: str
) -> None:
    answer = chief.post(at("new_rule", draft.pk), typed(**said))
    assert answer.status_code == REFUSED
    assert word in words(answer)
    shown = {"sentence": "The body weighs 17 g or more."} | said
    assert all(value in words(answer) for value in shown.values())
    assert draft.rules.count() == 3


def test_look_at_a_quantity_checks_nothing_and_keeps_what_was_typed(
    chief: Client, draft: Edition
) -> None:
    answer = chief.post(
        at("new_rule", draft.pk), typed(number="", lower="later", look="1")
    )
    assert answer.status_code == OK
    page = words(answer)
    assert "later" in page
    assert 'id="quantity"' in page
    assert "17.0" not in page.split('id="quantity"')[0]
    assert draft.rules.count() == 3


def test_piece_shows_where_a_quantity_is_measured(member: Client) -> None:
    piece = words(member.get(at("quantity"), {"quantity": "clearance_gear"}))
    assert "<svg" in piece
    assert "Gear to track" in piece
    assert "Choose a quantity" in words(member.get(at("quantity")))


def test_rules_are_moved_and_taken_out(chief: Client, draft: Edition) -> None:
    chief.post(at("move_rule", rule_of(draft, "2").pk), {"way": "up"})
    chief.post(at("move_rule", rule_of(draft, "1").pk), {"way": "down"})
    chief.post(at("remove_rule", rule_of(draft, "2").pk))
    numbers = list(draft.rules.values_list("number", flat=True))
    assert numbers == ["3", "1"]


def test_published_edition_is_changed_by_no_page(chief: Client) -> None:
    edition = builders.make_edition()
    row = rule_of(edition)
    for address, said in (
        (at("edition_settings", edition.pk), {"decision_rule": "guarded rejection"}),
        (at("new_rule", edition.pk), typed()),
        (at("rule", row.pk), typed()),
        (at("move_rule", row.pk), {"way": "down"}),
        (at("remove_rule", row.pk), {}),
        (at("discard", edition.pk), {}),
        (at("publish", edition.pk), {}),
        (at("keep_limit", row.pk), {"lower": "85"}),
    ):
        answer = chief.post(address, said | {"confidence": "95"}, follow=True)
        page = words(answer)
        assert "is published" in page or "since you opened" in page, address
    assert checksum(rulebook_text(edition)) == edition.sha256
    assert "Write a rule" not in words(chief.get(at("edition", edition.pk)))


def test_next_draft_is_made_from_an_edition(chief: Client) -> None:
    edition = builders.make_edition()
    answer = chief.post(at("new_draft", edition.pk))
    copy = Edition.objects.drafts().get()
    assert answer.headers["Location"] == at("edition", copy.pk)
    page = words(chief.get(at("side_by_side", copy.pk, edition.pk)))
    assert "Both say the same, to the digit." in page


def test_difference_is_said_in_words(member: Client) -> None:
    first = builders.make_edition()
    second = builders.make_edition(
        [rule("1", "weight_car", lower="80.5"), rule("4", "width_rear", upper=64)]
    )
    page = words(member.get(at("side_by_side", second.pk, first.pk)))
    assert "Lower limit: 80.0 g → 80.5 g (stricter)" in page
    assert "Added: at most 64.00 mm" in page
    assert page.count("Taken out") == 2
    back = words(member.get(at("side_by_side", first.pk, second.pk)))
    assert "Lower limit: 80.5 g → 80.0 g (looser)" in back


def test_contradictions_are_named_and_stop_publishing(chief: Client) -> None:
    draft = builders.make_edition(
        [rule("1", "weight_car", lower=80), rule("2", "weight_car", upper=79)],
        published=False,
    )
    for name in ("edition", "publish"):
        page = words(chief.get(at(name, draft.pk)))
        assert "No car can meet both 1 and 2" in page
        assert "Stops publishing" in page
    answer = chief.post(at("publish", draft.pk))
    assert answer.status_code == REFUSED
    draft.refresh_from_db()
    assert not draft.is_published


def test_night_races_by_the_edition_that_is_published(chief: Client) -> None:
    night = builders.make_night()
    draft = builders.make_edition(published=False)
    assert str(night) in words(chief.get(at("publish", draft.pk)))
    chief.post(at("publish", draft.pk), {"nights": [night.pk]})
    assert NightClass.objects.get(night=night).edition_id == draft.pk


def test_draft_is_thrown_away(chief: Client, draft: Edition) -> None:
    answer = chief.post(at("discard", draft.pk), follow=True)
    assert "is thrown away" in words(answer)
    assert not Edition.objects.exists()


def test_file_is_canonical_and_says_its_digest(member: Client) -> None:
    edition = builders.make_edition()
    answer = member.get(at("edition_file", edition.pk))
    content = answer.content
    assert content == write_rulebook(rulebook_text(edition))
    assert hashlib.sha256(content).hexdigest() == edition.sha256
    digest = b64encode(hashlib.sha256(content).digest()).decode()
    assert answer.headers["Content-Digest"] == f"sha-256=:{digest}:"
    assert 'filename="club-rules-1.json"' in answer.headers["Content-Disposition"]
    row = AuditRow.objects.get(event="data.exported")
    assert (row.subject, row.detail) == (str(edition), {"form": "json"})


def test_schema_is_given(member: Client) -> None:
    answer = member.get(at("rulebook_schema"))
    assert answer.headers["Content-Type"] == "application/schema+json"
    assert json.loads(answer.content)["title"] == "A rulebook's edition"


def upload(
    chief: Client, content: bytes, *, name: str = "rules.json", **said: str
) -> Any:
    file = SimpleUploadedFile(name, content, content_type="application/json")
    return chief.post(at("import_rulebook"), {"file": file, **said})


def county(*rules: Any, edition: int = 1) -> bytes:
    """Give the file of an edition of another rulebook."""
    made = builders.make_edition(rules or builders.SIMPLE_RULES, published=False)
    text = vars(rulebook_text(made)) | {"rulebook": "County rules", "edition": edition}
    return write_rulebook(type(rulebook_text(made))(**text))


def test_file_becomes_a_draft_with_the_same_checksum(chief: Client) -> None:
    content = county()
    answer = upload(chief, content)
    made = Edition.objects.get(rulebook__name="County rules")
    assert answer.headers["Location"] == at("edition", made.pk)
    page = words(chief.get(answer.headers["Location"]))
    # Once in the message of the import, once as that of the draft as it stands.
    assert page.count(hashlib.sha256(content).hexdigest()) == 2
    assert chief.get(at("edition_file", made.pk)).content == content


def test_file_that_follows_an_edition_shows_what_differs(chief: Client) -> None:
    first = upload(chief, county())
    made = Edition.objects.get(rulebook__name="County rules")
    chief.post(at("publish", made.pk))
    assert first.status_code == MOVED
    heavier = [rule("1", "weight_car", lower=82), *builders.SIMPLE_RULES[1:]]
    answer = upload(chief, county(*heavier, edition=2))
    page = words(chief.get(answer.headers["Location"]))
    assert "Lower limit: 80.0 g → 82.0 g (stricter)" in page


def test_edition_that_is_here_is_refused_with_what_differs(chief: Client) -> None:
    upload(chief, county())
    count = Edition.objects.count()
    heavier = [rule("1", "weight_car", lower=82), *builders.SIMPLE_RULES[1:]]
    answer = upload(chief, county(*heavier))
    page = words(answer)
    assert answer.status_code == REFUSED
    assert "says something else" in page
    assert "Lower limit: 80.0 g → 82.0 g (stricter)" in page
    assert Edition.objects.filter(rulebook__name="County rules").count() == 1
    assert Edition.objects.count() == count + 1  # the one that the file was made of


def test_class_that_is_lacking_is_named_and_added_when_ticked(chief: Client) -> None:
    lorry = builders.make_class("Lorry")
    content = county(rule("1", "weight_car", lower=80, classes=("Lorry",)))
    Edition.objects.get().rules.all().delete()
    lorry.delete()
    answer = upload(chief, content)
    assert answer.status_code == REFUSED
    assert "“Lorry”" in words(answer)
    assert upload(chief, content, adds_classes="on").status_code == MOVED
    assert RaceClass.objects.get(name="Lorry").rulebook.name == "County rules"


def spoilt(key: str, value: object) -> bytes:
    book = json.loads(county())
    book["rules"][1][key] = value
    return json.dumps(book).encode()


@pytest.mark.parametrize(
    ("change", "place", "word"),
    [
        (("quantity", "colour"), "/rules/1/quantity", "“colour”"),
        (("unit", "inch"), "/rules/1/unit", "“inch”"),
        (("colour", "red"), "/rules/1/colour", "“colour”"),
        (("lower", float("nan")), "/rules/1/lower", "NaN"),
        (("lower", "NaN"), "/rules/1/lower", "“NaN”"),
        (("number", "1"), "/rules/1/number", "“1”"),
    ],
)
def test_file_that_is_wrong_is_refused_by_name_and_place(
    chief: Client, change: tuple[str, object], place: str, word: str
) -> None:
    answer = upload(chief, spoilt(*change), name="county.json")
    page = words(answer)
    assert answer.status_code == REFUSED
    assert f"county.json, {place}:" in page
    assert word in page
    assert not Rulebook.objects.filter(name="County rules").exists()


def test_file_of_a_hundred_megabytes_is_refused_by_its_size(chief: Client) -> None:
    answer = upload(chief, b" " * 100_000_000, name="large.json")
    assert answer.status_code == REFUSED
    assert "large.json: 100,000,000 bytes" in words(answer)
    assert f"{LARGEST_FILE:,}" in words(answer)


def test_no_file_is_asked_for(chief: Client) -> None:
    assert chief.post(at("import_rulebook")).status_code == REFUSED
    assert chief.get(at("import_rulebook")).status_code == OK


def test_what_was_stored_otherwise_than_published_is_said(
    member: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The database lets nobody do it; a file of it, edited elsewhere, may have been."""
    edition = builders.make_edition()
    monkeypatch.setattr(
        "inspection.views.rulebooks.editions.checksum", lambda _text: "0" * 64
    )
    page = words(member.get(at("edition", edition.pk)))
    assert "is not what was published" in page


def test_edition_is_explained_by_each_kind_of_rule(member: Client) -> None:
    """A looked-at rule, a count, two limits: none of them stops the picture."""
    for rules in (
        [rule("1", "motor_sealed", required=Answer.YES)],
        [rule("1", "teeth_gear", upper=40)],
        [rule("1", "weight_car", lower=80, upper=90)],
    ):
        edition = builders.make_edition(rules)
        assert "<svg" in words(member.get(at("edition", edition.pk)))


def test_rule_says_of_whom_and_when_it_is_asked(member: Client) -> None:
    builders.make_class()
    edition = builders.make_edition(
        [
            rule("1", "weight_car", lower=80, lower_after="79.5", classes=("Saloon",)),
            rule("2", "width_rear", upper=64, stage=Stage.BEFORE),
            rule("3", "width_front", upper=64, stage=Stage.AFTER),
            rule("4", "clearance_rear", lower=1, evidence=Evidence.TAKEN_ONLY),
            rule("5", "rollout", lower=20, upper=22, force=Force.ADVISORY),
            rule(
                "6",
                "motor_axle_offset",
                lower="-0.25",
                condition_key="layout",
                condition_word="in-line",
            ),
        ]
    )
    page = words(member.get(at("edition", edition.pk)))
    for said in (
        "Weight, ready to race · Saloon",
        "after the race at least 79.5 g",
        "before the race only",
        "after the race only",
        "taken only",
        "advisory",
        "20.00 mm to 22.00 mm",
        "only for motor layout in-line",
        "at least −0.25 mm",
    ):
        assert said in page, said


def test_person_who_published_is_named(member: Client) -> None:
    edition = builders.make_edition()
    assert isinstance(edition.published_by, Person)
    assert edition.published_by.name in words(member.get(at("edition", edition.pk)))
