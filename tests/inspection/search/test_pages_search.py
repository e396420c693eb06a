"""One box finds everything: tags lead on, words list, labels of before are read."""

from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from inspection.loaders.search.codes import Asked, read_asked
from inventory.actions.club import ClubSettings, settle_club
from inventory.compute.roles import Role
from inventory.compute.stock import PartKind, make_tag
from inventory.models import Part, Person
from tests import builders
from tests.conftest import QueryGrowth
from tests.inventory import bags

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper(client_of: Callable[[Person], Client]) -> Client:
    return client_of(builders.make_person(Role.PARTS_KEEPER))


@pytest.fixture
def scrutineer(client_of: Callable[[Person], Client]) -> Client:
    return client_of(builders.make_scrutineer())


def find(client: Client, text: str) -> Any:
    return client.get("/find", {"q": text})


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def leads_to(answer: Any, name: str, *args: object) -> bool:
    return bool(answer.status_code == 302 and answer.url == reverse(name, args=[*args]))


def test_tag_leads_straight_to_what_it_is_on(scrutineer: Client) -> None:
    part, car = builders.make_part(), builders.make_car()
    pair, sheet = bags.make_set(), builders.make_sheet()
    assert leads_to(find(scrutineer, part.tag), "inventory:part", part.tag)
    assert leads_to(find(scrutineer, car.tag), "inspection:car", car.tag)
    assert leads_to(find(scrutineer, pair.tag), "inventory:pair", pair.tag)
    assert leads_to(find(scrutineer, sheet.number), "inspection:sheet", sheet.number)
    # As it is read aloud, or written by hand.
    slow = f" {part.tag[:3].lower()}-{part.tag[3:].lower()} "
    assert leads_to(find(scrutineer, slow), "inventory:part", part.tag)


def test_clubs_own_tags_are_found_too(keeper: Client) -> None:
    part = builders.make_part(tag="b-12")
    assert leads_to(find(keeper, "b-12"), "inventory:part", part.tag)


def test_each_kind_is_listed_by_words_of_its_name(scrutineer: Client) -> None:
    car, night = builders.make_car(), builders.make_night()
    page = text_of(find(scrutineer, car.name))
    assert reverse("inspection:car", args=[car.tag]) in page
    assert reverse("inspection:night_list", args=[night.pk]) in text_of(
        find(scrutineer, night.name.lower())
    )
    by_date = text_of(find(scrutineer, night.date.isoformat()))
    assert reverse("inspection:night_list", args=[night.pk]) in by_date
    edition = builders.make_edition()
    for words in ("rules club", "saloon"):
        listed = text_of(find(scrutineer, words))
        assert reverse("inspection:edition", args=[edition.pk]) in listed
    gauge = builders.make_gauge().gauge
    listed = text_of(find(scrutineer, gauge.name[:4]))
    assert reverse("inventory:gauge", args=[gauge.pk]) in listed
    batch = bags.make_batch("18.20", "18.30")
    listed = text_of(find(scrutineer, batch.name))
    assert reverse("inventory:batch", args=[batch.pk]) in listed


def test_rulebook_without_a_published_edition_leads_to_the_shelf(
    scrutineer: Client,
) -> None:
    builders.make_edition(published=False)
    page = text_of(find(scrutineer, "club rules"))
    assert "no edition published yet" in page
    assert f'href="{reverse("inspection:rulebooks")}"' in page


def test_parts_are_found_by_how_name_and_drawer_begin(keeper: Client) -> None:
    named = builders.make_part(name="Élan rear", drawer="B7")
    other = builders.make_part(name="Rear of élan")
    for words in ("Élan", "élan", "élan REAR", "b7"):
        page = text_of(find(keeper, words))
        assert named.tag in page, words
        assert other.tag not in page, words
    # Any word of it, and what is said of its kind, the list of parts finds.
    assert f'href="{reverse("inventory:parts")}?q=b7"' in text_of(find(keeper, "b7"))


def test_beginning_of_a_tag_lists_the_parts_and_says_their_state(
    keeper: Client,
) -> None:
    part = builders.make_part(name="Slick")
    Part.objects.filter(pk=part.pk).update(state="retired")
    page = text_of(find(keeper, part.tag[:-1].lower()))
    assert part.tag in page
    assert "retired" in page.lower()
    assert part.tag not in text_of(find(keeper, "slick"))


def test_more_than_a_few_lead_to_the_list_of_them(scrutineer: Client) -> None:
    for _ in range(9):
        builders.make_car()
    page = text_of(find(scrutineer, "car"))
    assert f'href="{reverse("inspection:cars")}?q=car"' in page
    assert page.count('class="row-link"') == 8


def test_nothing_found_says_what_was_expected(keeper: Client) -> None:
    page = text_of(find(keeper, "no such thing"))
    assert "Nothing that you may see here goes by “no such thing”" in page
    # What was typed stands in the box, to be mended.
    assert 'value="no such thing"' in page
    assert text_of(keeper.get("/find")).count("<h2>") == 0
    too_long = find(keeper, "x" * 301)
    assert too_long.status_code == 422
    assert "longer than anything here is called" in text_of(too_long)


def test_people_are_for_who_keeps_the_list_of_them(
    client_of: Callable[[Person], Client],
) -> None:
    somebody = builders.make_person(name="Ottoline Grey")
    admin = client_of(builders.make_admin())
    assert somebody.sign_in_name in text_of(find(admin, "ottoline"))
    chief = client_of(builders.make_person(Role.CHIEF_SCRUTINEER))
    assert somebody.sign_in_name not in text_of(find(chief, "ottoline"))


def test_member_finds_no_car_and_no_sheet_but_their_own(
    client_of: Callable[[Person], Client],
) -> None:
    sheet = builders.make_sheet()
    car = sheet.entry.car
    owner, other = client_of(car.owner), client_of(builders.make_person())
    for text, name in ((car.tag, "inspection:car"), (sheet.number, "inspection:sheet")):
        assert leads_to(find(owner, text), name, text)
        page = find(other, text)
        assert page.status_code == 200
        assert car.name not in text_of(page)


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("  two   words ", Asked(words="two words")),
        ("7 Blue Heron · C22223", Asked(words="7 Blue Heron C22223")),
        ("http://old.example/parts/T2222G", Asked(words="T2222G", host="old.example")),
        (
            "HTTPS://OLD.EXAMPLE:8443/DESK/PAIRS/p2222k?x=1#y",
            Asked(words="p2222k", host="old.example:8443"),
        ),
        (
            "http://old.example/sheet/26-0001/block",
            Asked(words="26-0001", host="old.example"),
        ),
        (
            "http://old.example/parts?q=Top drawer",
            Asked(words="Top drawer", host="old.example", drawer=True),
        ),
        ("http://old.example/begin/code", Asked(words="", host="old.example")),
        ("http://old.example/", Asked(words="", host="old.example")),
        ("http://[bad/parts/T2222G", Asked(words="http://[bad/parts/T2222G")),
        ("wifi://", Asked(words="wifi://")),
    ],
)
def test_code_is_read_by_what_it_leads_to(text: str, asked: Asked) -> None:
    assert read_asked(text) == asked


def test_label_of_this_desk_leads_on_whatever_its_address(keeper: Client) -> None:
    part = builders.make_part(drawer="B7")
    scanned = f"http://testserver/parts/{part.tag}"
    assert leads_to(find(keeper, scanned), "inventory:part", part.tag)
    for address in ("http://old-hall.example/", "http://new-hall.example/"):
        settle_club(ClubSettings(name="The club", address=address), act=builders.act())
    # The address before is still known from when the club said it.
    for hall in ("old-hall", "new-hall"):
        scanned = f"http://{hall}.example/parts/{part.tag}"
        assert leads_to(find(keeper, scanned), "inventory:part", part.tag)
    drawer = find(keeper, "http://old-hall.example/parts?q=B7")
    assert drawer.url == f"{reverse('inventory:parts')}?q=B7"


def test_code_of_another_club_gives_a_sentence_and_a_way_on(keeper: Client) -> None:
    gone = make_tag("T", 900_000)
    page = text_of(find(keeper, f"http://other.example/parts/{gone}"))
    assert "This label was printed for other.example" in page
    assert f"nothing that you may see here has the code {gone}" in page
    assert f'href="{reverse("inventory:parts")}"' in page
    # Each club counts its tags from the first: the same one may be here.
    part = builders.make_part()
    page = text_of(find(keeper, f"http://other.example/parts/{part.tag}"))
    assert "another club may have the same code on another part" in page
    assert f'href="{reverse("inventory:part", args=[part.tag])}"' in page


def test_code_that_is_no_label_says_so(keeper: Client) -> None:
    page = text_of(find(keeper, "http://testserver/season"))
    assert "leads to a page of testserver, not to a part" in page


def test_search_asks_as_much_of_a_large_club(
    scrutineer: Client, same_queries: QueryGrowth
) -> None:
    def add(rows: int) -> None:
        for _ in range(rows):
            builders.make_part(name="Car tyre")
            builders.make_car()

    same_queries(lambda: find(scrutineer, "car"), add, at_most=20)


def test_parts_are_looked_up_by_indexes_alone() -> None:
    """Of seventy thousand parts no look-up may walk the table."""
    looks = {
        "tag": Part.objects.filter(tag__begins="T22"),
        "part_by_name": Part.objects.filter(name__folded__begins="slick"),
        "part_by_drawer": Part.objects.filter(drawer__folded="b7"),
    }
    Part.objects.bulk_create(
        Part(
            tag=make_tag("T", n), kind=PartKind.TYRE, name=f"Tyre {n}",
            drawer=f"B{n}", received_at=builders.NOW,
        )
        for n in range(3000)
    )  # fmt: skip
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    for index, look in looks.items():
        plan = look.order_by().values("pk").explain()
        assert index in plan, (index, plan)
        assert "Seq Scan" not in plan, plan
        assert "SCAN" not in plan, plan
