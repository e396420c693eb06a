"""Room for parts and jig sheets, kept with a car."""

import pytest
from django.db import IntegrityError, transaction

from inspection.actions.jigs import save_jig
from inspection.actions.rooms import store_room_sizes
from inspection.models import Car, RoomSize, SavedJig
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def car() -> Car:
    return builders.make_car()


def test_sizes_are_stored_as_typed_and_superseded(car: Car) -> None:
    first = {"axle_to_bar_mm": "9,2", "arch_width_mm": "none", "spacers_mm": "0"}
    store_room_sizes(car, first, act=builders.act())
    values = {row.size: row.value for row in RoomSize.objects.current()}
    assert values == {
        "axle_to_bar_mm": 9_200_000,
        "arch_width_mm": None,
        "spacers_mm": 0,
    }
    again = store_room_sizes(
        car, first | {"axle_to_bar_mm": "3/8in"}, act=builders.act(minutes=1)
    )
    assert [row.size for row in again] == ["axle_to_bar_mm"]
    assert RoomSize.objects.count() == 4
    assert RoomSize.objects.current().get(size="axle_to_bar_mm").value == 9_525_000
    assert AuditRow.objects.filter(event="car.room_measured").count() == 2


def test_same_sizes_again_write_nothing(car: Car) -> None:
    store_room_sizes(car, {"spacers_mm": "0.5"}, act=builders.act())
    rows = AuditRow.objects.count()
    assert store_room_sizes(car, {"spacers_mm": "0.5"}, act=builders.act()) == []
    assert AuditRow.objects.count() == rows


@pytest.mark.parametrize(
    ("texts", "code", "field", "said"),
    [
        ({"boot_mm": "3"}, "size_unknown", "boot_mm", "boot_mm"),
        ({"spacers_mm": "none"}, "not_open_ended", "spacers_mm", "“none”"),
        ({"spacers_mm": "x"}, "not_a_number", "spacers_mm", "“x”"),
        ({"spacers_mm": "-0.5"}, "size_implausible", "spacers_mm", "“-0.5”"),
        ({"axle_room_mm": "801"}, "size_implausible", "axle_room_mm", "80 mm"),
        (
            {"slot_low_mm": "9.4", "slot_high_mm": "9.3"},
            "sizes_crossed",
            "slot_low_mm",
            "9.4 mm",
        ),
    ],
)
def test_size_that_cannot_be_is_refused_and_nothing_written(
    car: Car, texts: dict[str, str], code: str, field: str, said: str
) -> None:
    store_room_sizes(car, {"slot_high_mm": "9.3"}, act=builders.act())
    before = RoomSize.objects.count(), AuditRow.objects.count()
    with pytest.raises(RefusedError) as refusal:
        store_room_sizes(car, {"axle_to_bar_mm": "9"} | texts, act=builders.act())
    assert refusal.value.code == code
    assert refusal.value.field == field
    assert said in refusal.value.sentence
    assert (RoomSize.objects.count(), AuditRow.objects.count()) == before


def test_stored_size_contradicts_a_new_one(car: Car) -> None:
    store_room_sizes(car, {"lift_high_mm": "1"}, act=builders.act())
    with pytest.raises(RefusedError, match=r"greater than motor lift, greatest"):
        store_room_sizes(car, {"lift_low_mm": "1.2"}, act=builders.act())


@pytest.mark.parametrize("change", ["value", "text"])
def test_stored_size_is_only_ever_superseded(car: Car, change: str) -> None:
    store_room_sizes(car, {"arch_width_mm": "none"}, act=builders.act())
    with pytest.raises(IntegrityError), transaction.atomic():
        RoomSize.objects.update(**{change: 5_000_000})
    with pytest.raises(IntegrityError), transaction.atomic():
        RoomSize.objects.all().delete()


def test_jig_sheet_is_kept_as_typed_and_those_before_stay(car: Car) -> None:
    save_jig(car, {"jig_tyre": "17,6"}, act=builders.act())
    save_jig(car, {"jig_tyre": "18"}, act=builders.act(minutes=1))
    assert [jig.typed["jig_tyre"] for jig in SavedJig.objects.all()] == ["18", "17,6"]
    assert AuditRow.objects.filter(event="car.jig_saved").count() == 2
