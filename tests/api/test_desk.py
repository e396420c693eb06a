"""The parts desk, gauges, cars, rulebooks and the season, by the API alone."""

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inspection.models import Car
from inventory.compute.roles import Role
from inventory.models import Batch, Part, PartSet
from tests.api.asking import BASE, Script, given, problem_of, script_of
from tests.builders import NOW, make_class, make_edition, make_part, make_person, rule
from tests.conftest import queries_of
from tests.inspection import garage

pytestmark = pytest.mark.django_db


def keeper() -> Script:
    return script_of(make_person(Role.PARTS_KEEPER))


def tyre(script: Script, *texts: str, **more: Any) -> str:
    said: dict[str, Any] = {"kind": "tyre", "facts": {"compound": "soft"}, "gauge": 0}
    said |= {"sizes": {"tyre_diameter": list(texts)}} | more
    (tag,) = given(script.post("parts", said), 201)["tags"]
    return str(tag)


def test_a_part_comes_in_is_measured_handed_out_and_put_right() -> None:
    script, member = keeper(), make_person()
    tag = tyre(script, "20.10", "20.12", drawer="A 1")
    shown = given(script.get(f"parts/{tag}"))
    assert shown["part"]["facts"]["compound"] == "soft"
    assert shown["estimates"][0]["value"] == pytest.approx(20.11)
    more = {"quantity": "tyre_diameter", "texts": ["20.05"], "gauge": 0}
    given(script.post(f"parts/{tag}/readings", more), 201)
    answer = script.get(f"parts/{tag}")
    (now,) = given(answer)["estimates"]
    assert [one["text"] for one in now["readings"]] == ["20.05"]
    strange = more | {"texts": ["2.005"]}
    said = problem_of(script.post(f"parts/{tag}/readings", strange), 409)
    assert said["code"] == "strange"
    right = {"name": "left", "facts": {"compound": "hard"}, "reason": "it was misread"}
    put = script.put(f"parts/{tag}", right, if_match=answer.headers["ETag"])
    assert given(put)["part"]["facts"]["compound"] == "hard"
    out = given(script.post(f"parts/{tag}/hand-out", {"person": member.pk}))
    assert out["part"]["holder"]["id"] == member.pk
    back = given(script.post(f"parts/{tag}/take-back", {"note": "worn"}))
    assert back["part"]["state"] == "in stock"
    assert [one["move"] for one in back["moves"]][:2] == ["take back", "hand out"]
    found = given(script.get("parts?compound=hard&fields=tag,size"))["items"]
    assert found == [{"tag": tag, "size": pytest.approx(20.05)}]


def brought(script: Script, rows: str, **headers: str) -> Any:
    """Bring a file."""
    file = SimpleUploadedFile("bag.csv", rows.encode(), "text/csv")
    headers |= {"authorization": f"Bearer {script.text}"}
    return Client().post(
        f"{BASE}drafts", {"file": file, "kind": "tyre"}, headers=headers
    )


def test_a_file_that_is_sent_twice_is_brought_once_and_another_is_another() -> None:
    script = keeper()
    key = {"idempotency-key": "bag-1"}
    first = brought(script, "name,diameter mm\na,20.00\n", **key)
    again = brought(script, "name,diameter mm\na,20.00\n", **key)
    assert given(first, 201) == given(again, 201)
    assert again.headers["Idempotency-Replayed"] == "true"
    # Of the same name and another content: it is not taken for the one before.
    other = brought(script, "name,diameter mm\nb,20.50\n", **key)
    assert problem_of(other, 422)["code"] == "key_used"


def test_a_file_comes_in_and_its_tyres_are_paired_and_undone() -> None:
    person = make_person(Role.PARTS_KEEPER)
    script = script_of(person)
    # 20.00 with 20.02, 20.50 with 20.53: each other difference is above 0.05.
    rows = "name,diameter mm\na,20.00\nb,20.50\nc,20.02\nd,20.53\ne,21.70\n"
    draft = given(brought(script, rows), 201)
    assert (draft["state"], draft["counts"]["new"]) == ("read", 5)
    taken = given(script.post(f"drafts/{draft['id']}/take", {"leave_out": 0}), 201)
    batch = Batch.objects.get(pk=taken["id"])
    at = f"batches/{batch.pk}/pairs"
    found = given(script.get(f"{at}?tolerance=0.05"))
    differences = [one["difference_mm"] for one in found["pairs"]]
    assert differences == [pytest.approx(0.02), pytest.approx(0.03)]
    assert [one["diameter_mm"] for one in found["left_over"]] == [pytest.approx(21.7)]
    confirm = {"seen": found["seen"], "tolerance": "0.05", "drawer": "P 1"}
    pairing = given(script.post(at, confirm), 201)
    assert PartSet.objects.together().count() == 2
    assert problem_of(script.post(at, confirm), 409)["code"] == "bag_changed"
    listed = given(script.get("pairs"))["items"]
    assert [one["tag"] for one in listed] == sorted(pairing["tags"])
    given(script.post(f"pairings/{pairing['id']}/undo"))
    assert not PartSet.objects.together().exists()


def test_a_gauge_is_brought_into_use_checked_and_studied() -> None:
    script = script_of(make_person(Role.SCRUTINEER))
    new: dict[str, Any] = {
        "name": "Caliper, red",
        "instrument": "caliper",
        "mode": "outside",
    }
    new |= {"unit": "mm", "check_every_days": 180}
    new |= {"resolution": "0.01", "max_permissible_error": "0.02"}
    (made,) = given(script.post("gauges", new), 201)["items"]
    assert made["may_be_used"] is False
    check = {"kind": "against master", "master": "20", "texts": ["20.01", "20.00"]}
    found = given(script.post(f"modes/{made['id']}/checks", check), 201)
    assert (found["result"], found["bias"]) == ("passed", pytest.approx(0.005))
    (now,) = given(script.get(f"gauges/{made['gauge']}"))["items"]
    assert now["may_be_used"] is True
    rows = "\n".join(
        f"{part},{person},{trial},{20 + part + 0.01 * trial:.2f}"
        for part in range(1, 4)
        for person in "AB"
        for trial in (1, 2)
    )
    study = {"table": rows, "method": "average and range"}
    worked = given(script.post(f"modes/{made['id']}/study", study))
    # Each range is 0.01; K1 for two trials is 0.8862 (AIAG MSA, 4th ed., table III-B).
    assert worked["ev"] == pytest.approx(0.01 * 0.8862, rel=1e-3)


def test_a_car_is_registered_gets_tyres_and_is_asked_what_fits() -> None:
    person = make_person()
    script, club = script_of(person), keeper()
    said = {"number": "77", "name": "Blue one", "race_class": make_class().pk}
    said |= {"layout": "in-line", "front_carrier": "guide"}
    car = given(script.post("cars", said), 201)["car"]["tag"]
    answer = script.get(f"cars/{car}")
    tag = answer.headers["ETag"]
    again = script.put(f"cars/{car}", said | {"number": "78"}, if_match=tag)
    assert given(again)["car"]["number"] == "78"
    sizes = {"values": {"axle_diameter": "3.00"}}
    assert given(script.put(f"cars/{car}/sizes", sizes)) == {"stored": 1}
    (axle,) = given(script.get(f"cars/{car}"))["geometry"]
    assert (axle["column"], axle["value"]) == ("axle_diameter", pytest.approx(3.0))
    part = tyre(club, "20.10")
    given(script.put(f"cars/{car}/on/rear-left", {"part": part}))
    assert Part.objects.get(tag=part).state == "on a car"
    assert given(script.get(f"cars/{car}/fit?kind=tyres"))["kind"] == "tyres"
    assert script.ask("DELETE", f"cars/{car}/on/rear-left").status_code == 204
    spur = {"part": garage.gear(28, "15.00").tag}
    problem = problem_of(script.put(f"cars/{car}/on/gear", spur), 409)
    assert problem["code"] == "cannot_drive"
    given(script.put(f"cars/{car}/on/gear", spur | {"confirmed": True}))
    problem_of(script_of(make_person()).get(f"cars/{car}"), 404)
    # The spacer puts the shaft on the axle line: half the tyre less half the can.
    jig = given(script.get("jig?jig_tyre=20&race_tyre=19.5&can_height=15"))
    assert jig["spacer_mm"] == pytest.approx(20 / 2 - 15 / 2)


def test_a_rulebook_goes_out_comes_in_elsewhere_is_tried_and_published() -> None:
    script = script_of(make_person(Role.CHIEF_SCRUTINEER))
    edition = make_edition([rule("1", "weight_car", lower=80)])
    shown = given(script.get(f"editions/{edition.pk}"))
    assert shown["sha256"] == edition.sha256
    file = shown["rulebook"]
    taken = problem_of(script.post("editions", {"rulebook": file}), 422)
    assert taken["code"] == "edition_taken"
    file["edition"] = 2
    made = given(script.post("editions", {"rulebook": file}), 201)["edition"]
    assert made["published_at"] is None
    trial = given(script.get(f"editions/{made['id']}/trial"))
    assert (trial["cars"], len(trial["rules"])) == (0, 1)
    out = given(script.post(f"editions/{made['id']}/publish", {"nights": []}))
    assert out["sha256"] == out["edition"]["sha256"]
    refused = script.post("editions", {"rulebook": {"edition": "one"}})
    assert problem_of(refused, 422)["errors"][0]["field"] == "rulebook"
    books = given(script.get("rulebooks"))["items"]
    assert [one["number"] for one in books[0]["editions"]] == [2, 1]
    assert given(script.get("season"))["rules"] == []


LISTS = ("parts", "cars", "sheets", "pairs", "batches", "gauges", "rulebooks")


def test_lists_ask_the_same_of_the_database_at_3_rows_and_at_300() -> None:
    script = script_of(make_person(Role.CHIEF_SCRUTINEER, Role.PARTS_KEEPER))
    owner, race_class = make_person(), make_class()

    def add(count: int) -> None:
        first = Car.objects.count()
        for number in range(first, first + count):
            make_part()
            Car.objects.create(
                tag=f"c{number}",
                number=str(number),
                name="x",
                owner=owner,
                race_class=race_class,
                layout="in-line",
                front_carrier="guide",
                changed_at=NOW,
            )

    for name in LISTS:
        given(script.get(name))
    add(3)
    few = {name: asked_for(script, name) for name in LISTS}
    add(297)
    assert few == {name: asked_for(script, name) for name in LISTS}
    assert max(few.values()) <= 8, json.dumps(few)


def asked_for(script: Script, name: str) -> int:
    return len(queries_of(lambda: given(script.get(f"{name}"))))
