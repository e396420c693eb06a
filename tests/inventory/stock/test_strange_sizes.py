"""Sizes that no part has are asked about on every page that takes one."""

import uuid
from typing import Any

import pytest
from django.test import Client

from inventory.compute.measuring.instruments import Instrument
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Role
from inventory.compute.stock import GearFacts, GearRole
from inventory.models import Batch, GaugeCheck, GaugeMode, Part, PartReading
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge(at=builders.now())


@pytest.fixture
def gear() -> Part:
    return builders.make_part(GearFacts(role=GearRole.SPUR, teeth=28))


def post(client: Client, address: str, said: dict[str, Any]) -> tuple[int, str]:
    answer = client.post(address, said)
    return answer.status_code, answer.content.decode()


@pytest.mark.parametrize(
    ("texts", "asked"),
    [
        ("175", "175 cannot be right (3 to 60 mm)."),
        ("17.52 1753", "1753 cannot be right (3 to 60 mm). Did the gauge show 17.53?"),
        ("17.52 18.51", "18.51; another reading is 17.52 mm. Is it right?"),
    ],
)
def test_gear_of_175_mm_is_asked_about(
    keeper: Client, caliper: GaugeMode, gear: Part, texts: str, asked: str
) -> None:
    said = {"quantity": "gear_diameter", "gauge": caliper.pk, "texts": texts}
    address = f"/parts/{gear.tag}/measure"
    status, page = post(keeper, address, said)
    assert status == 422
    assert asked in page
    assert f'value="{texts}"' in page
    assert "The readings are right as they stand" in page
    assert not PartReading.objects.exists()
    assert post(keeper, address, said | {"right": "on"})[0] == 302
    assert PartReading.objects.count() == len(texts.split())


def test_gear_of_17_5_mm_is_taken_at_once(
    keeper: Client, caliper: GaugeMode, gear: Part
) -> None:
    said = {"quantity": "gear_diameter", "gauge": caliper.pk, "texts": "17.52 17.50"}
    assert post(keeper, f"/parts/{gear.tag}/measure", said)[0] == 302
    missing = said | {"quantity": ""}
    assert post(keeper, f"/parts/{gear.tag}/measure", missing)[0] == 422


@pytest.mark.parametrize("text", ["?", "17,5,2"])
def test_what_is_no_number_is_said_so(
    keeper: Client, caliper: GaugeMode, gear: Part, text: str
) -> None:
    said = {"quantity": "gear_diameter", "gauge": caliper.pk, "texts": text}
    status, page = post(keeper, f"/parts/{gear.tag}/measure", said)
    assert status == 422
    assert f"Typed “{text}”" in page
    assert "right as they stand" not in page


def test_spread_that_no_tyre_has_is_asked_about_as_it_comes_into_stock(
    keeper: Client,
) -> None:
    said = {"gauge": "0", "size_tyre_diameter": "20.01 20.61", "compound": "soft"}
    status, page = post(keeper, "/parts/new/tyre", said)
    assert status == 422
    assert "20.61; another reading is 20.01 mm. Is it right?" in page
    assert post(keeper, "/parts/new/tyre", said | {"right": "on"})[0] == 302


def batch_at_the_caliper(keeper: Client, caliper: GaugeMode) -> Batch:
    said = {
        "name": "Bag",
        "compound": "soft",
        "gauge": caliper.pk,
        "reading_count": "3",
    }
    answer = keeper.post("/pairing/caliper", said)
    assert answer.status_code == 302, answer.content.decode()
    return Batch.objects.get()


def test_spread_that_no_tyre_has_is_asked_about_at_the_caliper(
    keeper: Client, caliper: GaugeMode
) -> None:
    batch = batch_at_the_caliper(keeper, caliper)
    said = {
        "gauge": caliper.pk,
        "sent_id": uuid.uuid4(),
        "middle1": "20.01",
        "middle2": "20.61",
        "middle3": "20.02",
    }
    address = f"/pairing/caliper/{batch.pk}"
    status, page = post(keeper, address, said)
    assert status == 422
    assert "20.61; another reading of this tyre is 20.01 mm. Is it right?" in page
    assert not Part.objects.exists()
    assert post(keeper, address, said | {"right": "on"})[0] == 302
    assert Part.objects.count() == 1


@pytest.fixture
def scale() -> GaugeMode:
    return builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM)


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ({"master": "0.02", "texts": "0.02"}, "0.02 cannot be right (1 to 5000 g)."),
        (
            {"master": "100", "texts": "10"},
            "10 cannot be right (90 to 110 g). Did the gauge show 100.00?",
        ),
    ],
)
def test_master_that_a_scale_cannot_have_is_asked_about(
    keeper: Client, scale: GaugeMode, said: dict[str, str], asked: str
) -> None:
    before = GaugeCheck.objects.count()
    address = f"/gauges/{scale.pk}/check"
    status, page = post(keeper, address, said | {"kind": "tonight"})
    assert status == 422
    assert asked in page
    assert GaugeCheck.objects.count() == before
    typed = said | {"kind": "tonight", "right": "on"}
    assert post(keeper, address, typed)[0] == 302
    assert GaugeCheck.objects.count() == before + 1


def test_scale_is_not_asked_for_a_length(
    keeper: Client, scale: GaugeMode, caliper: GaugeMode
) -> None:
    page = keeper.get(f"/gauges/{scale.pk}/check").content.decode()
    assert "20 mm" not in page
    assert "What a scale reads: 1 to 5000 g." in page
    assert "Jaws" not in page
    other = keeper.get(f"/gauges/{caliper.pk}/check").content.decode()
    assert "About 20 mm for a check tonight." in other
    eye = builders.make_gauge(instrument=Instrument.EYE, unit=Unit.DEGREE)
    assert keeper.get(f"/gauges/{eye.pk}/check").status_code == 200
    said = {"master": "20 mm", "texts": "20", "kind": "tonight"}
    status, text = post(keeper, f"/gauges/{scale.pk}/check", said)
    assert status == 422
    assert "its unit is" in text
