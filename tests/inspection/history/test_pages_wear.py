"""How long a car stays legal: on its page, and in one line on the sheet it passed."""

import datetime as dt
import uuid
from collections.abc import Callable
from html import unescape
from typing import Any

import numpy as np
import pytest
from django.test import Client

from inspection.actions.cars import store_geometry
from inspection.actions.race_nights import close_night
from inspection.actions.readings import TypedReading, take_reading
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.judging import DecisionRule
from inspection.compute.night.entries import Decision, PartPosition
from inspection.loaders.fit.cars import load_cars
from inspection.loaders.history import wear as wear_loader
from inspection.loaders.history.same_compound import REAR_TYRES, tyres_of_compound
from inspection.loaders.history.wear import tyre_readings, wear_of_car
from inspection.models import Car, Edition, Sheet, SheetReading
from inventory.compute.numbers.units import Unit
from inventory.compute.stock.words import PartQuantity
from inventory.models import Person, Tyre
from tests import builders
from tests.conftest import queries_of
from tests.inspection import garage
from tests.lifted import guards_lifted

pytestmark = pytest.mark.django_db

RULES = (
    builders.rule("1", "clearance_gear", lower=0.8),
    builders.rule("2", "tyre_diameter_rear", lower=19.2),
    builders.rule("3", "weight_car", lower=80),
)
TYRES = ("tyre_diameter_rear_left", "tyre_diameter_rear_right")


@pytest.fixture
def car(db: None) -> Car:
    builders.make_edition(RULES)
    return garage.make_car()


@pytest.fixture
def client(car: Car, client_of: Callable[[Person], Client]) -> Client:
    return client_of(car.owner)


def text_of(answer: Any) -> str:
    return " ".join(unescape(str(answer.content.decode())).split())


def pass_car(car: Car, sizes: tuple[str, str], *, hours: float) -> Sheet:
    """Read a car's tyres and weight on a night of its own, and pass it."""
    night = builders.make_night(Edition.objects.get())
    entry = builders.make_entry(car=car, night=night)
    act = builders.act(minutes=60 * hours)
    sheet = start_sheet(entry.pk, block=None, changed=(), act=act)
    for column, text in [*zip(TYRES, sizes, strict=True), ("weight_car", "95.2")]:
        unit = Unit.GRAM if column == "weight_car" else Unit.MILLIMETRE
        gauge = garage.caliper(unit).mode
        typed = TypedReading(
            reading_id=uuid.uuid4(),
            column=column,
            text=text,
            gauge_mode_id=gauge.pk,
            is_confirmed=True,
        )
        read = take_reading(sheet.number, typed, act=act)
        assert read.reading is not None
    seal_sheet(sheet.number, decision=Decision.PASSED, act=act)
    close_night(night, act=builders.act(minutes=60 * hours + 30))
    return sheet


def test_first_rule_to_break_is_the_one_worked_by_hand(
    client: Client, car: Car
) -> None:
    # 20.00 down to 19.20 by rule 2; the gear of 15.00 needs no more than 16.60.
    wear = wear_of_car(load_cars(Car.objects.filter(pk=car.pk))[0])
    assert wear is not None
    assert wear.rule is not None
    assert (wear.rule.number, wear.left, wear.nights) == ("2", None, None)
    assert wear.limit.wear == pytest.approx(0.8, abs=1e-3)
    words = text_of(client.get(f"/cars/{car.tag}"))
    assert "Legal down to rear tyres of 19.20 mm, 0.80 mm less than now" in words
    assert "rule 2 breaks first." in words
    assert "Wear is shown once" in words


def test_gear_governs_where_it_is_large(client_of: Callable[[Person], Client]) -> None:
    builders.make_edition(RULES)
    gear = garage.gear(34, "18.00")
    car = garage.make_car(on_car={PartPosition.GEAR: gear})
    words = text_of(client_of(car.owner).get(f"/cars/{car.tag}"))
    # (D - 18) / 2 = 0.8 at 19.60; but 0.2 mm lower at the rear than at the front over
    # 95 mm, the car clears along its normal, 2e-6 mm less.  Advice is rounded inwards.
    assert "Legal down to rear tyres of 19.61 mm, 0.39 mm less than now" in words
    assert "rule 1 breaks first." in words
    assert "Rear tyres that the rules allow" in words


def test_nights_left_are_a_span_by_all_readings(client: Client, car: Car) -> None:
    pass_car(car, ("20.02", "20.00"), hours=1)
    first = pass_car(car, ("19.97", "19.94"), hours=24)
    line = "breaks first; in how many nights is not yet known."
    assert line in text_of(client.get(f"/sheet/{first.number}"))
    later = [("19.90", "19.88"), ("19.84", "19.83"), ("19.79", "19.76")]
    for place, sizes in enumerate(later, 2):
        sheet = pass_car(car, sizes, hours=24 * place)
    wear = wear_of_car(load_cars(Car.objects.filter(pk=car.pk))[0])
    assert wear is not None
    assert wear.left is not None
    assert wear.nights is not None
    # The straight lines of both tyres by NumPy; the smaller, right, tyre may lose
    # 0.56 more, which is nine nights and a bit.
    left = [20.02, 19.97, 19.90, 19.84, 19.79]
    right = [20.00, 19.94, 19.88, 19.83, 19.76]
    slopes = [-np.polyfit(range(5), both, 1)[0] for both in (left, right)]
    assert wear.left.per_night_mm == pytest.approx(np.mean(slopes), abs=0.002)
    low, high = wear.nights
    assert low < 0.56 / np.mean(slopes) < high <= 3 * low
    line = f"0.56 mm less than now; rule 2 breaks first; {low} to {high} nights at"
    page = client.get(f"/cars/{car.tag}")
    assert line in text_of(page)
    assert line in text_of(client.get(f"/sheet/{sheet.number}"))
    # A sheet says what was known when it was sealed.
    before = "breaks first; in how many nights is not yet known."
    assert before in text_of(client.get(f"/sheet/{first.number}"))
    assert "Rear tyres, mm" in text_of(page)
    assert page.context["wear_chart_words"]


def test_tyre_has_one_point_a_night_and_the_days_say_their_year(
    client: Client, car: Car
) -> None:
    pass_car(car, ("20.02", "20.00"), hours=1)
    # Two points are no chart yet.
    assert "wear_chart" not in client.get(f"/cars/{car.tag}").context
    sheet = pass_car(car, ("19.92", "19.90"), hours=24 * 300)
    # Read thrice, it is one point still, at the mean.
    for text in ("19.94", "19.96"):
        add_reading(sheet, TYRES[0], text)
    wear = wear_of_car(load_cars(Car.objects.filter(pk=car.pk))[0])
    assert wear is not None
    left, right = wear.lines.values()
    assert [size for _, size in left] == pytest.approx([20.02, 19.94])
    assert [size for _, size in right] == pytest.approx([20.00, 19.90])
    chart = client.get(f"/cars/{car.tag}").context["wear_chart"]
    # The first night was on 8 May 2026, the other three hundred days later.
    assert ">8 May 2026<" in chart
    assert ">4 Mar 2027<" in chart


def add_reading(sheet: Sheet, column: str, text: str) -> None:
    """Write one more reading beside the last, although the sheet is sealed."""
    row = sheet.readings.filter(column=column).latest("id")
    row.pk, row.reading_id, row.text = None, uuid.uuid4(), text
    row.value = round(float(text) * 1_000_000)
    with guards_lifted(SheetReading):
        row.save(force_insert=True)


def test_last_nights_are_followed_and_no_more(
    car: Car, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(wear_loader, "LAST_NIGHTS", 2)
    sizes = [("20.02", "20.00"), ("19.92", "19.90"), ("19.86", "19.82")]
    for place, both in enumerate(sizes):
        pass_car(car, both, hours=1 + 24 * place)
    found = tyre_readings(car)
    assert [one.diameter_mm for one in found] == pytest.approx(
        [19.92, 19.9, 19.86, 19.82]
    )
    assert [one.races for one in found] == [0, 0, 1, 1]


def test_readings_at_the_bench_count_with_the_races_before_them(car: Car) -> None:
    pass_car(car, ("20.02", "20.00"), hours=1)
    left = car.fitted.get(position=PartPosition.REAR_LEFT).part
    garage.measured(left, {PartQuantity.TYRE_DIAMETER: "19.95"}, minutes=60 * 20)
    readings = tyre_readings(car)
    # What was read when the tyre came in, before it raced on this car, is left out.
    assert [(one.side.value, one.races) for one in readings] == [
        ("rear left", 0),
        ("rear right", 0),
        ("rear left", 1),
    ]


def test_rule_broken_now_leaves_no_wear(client_of: Callable[[Person], Client]) -> None:
    builders.make_edition(RULES)
    gear = garage.gear(36, "18.60")
    car = garage.make_car(on_car={PartPosition.GEAR: gear})
    words = text_of(client_of(car.owner).get(f"/cars/{car.tag}"))
    assert (
        "Not legal as fitted: gear to track is 0.70 mm; rule 1 asks at least 0.80 mm."
        in words
    )


def test_car_that_passes_within_its_doubt_is_not_called_illegal(
    client_of: Callable[[Person], Client],
) -> None:
    # 20.00 − 18.60 halved is 0.70: short by 0.01, where the doubt is some 0.03.
    rules = (builders.rule("1", "clearance_gear", lower=0.71), *RULES[1:])
    builders.make_edition(rules, decision_rule=DecisionRule.GUARDED_REJECTION)
    gear = garage.gear(36, "18.60")
    car = garage.make_car(on_car={PartPosition.GEAR: gear})
    words = text_of(client_of(car.owner).get(f"/cars/{car.tag}"))
    assert (
        "Legal only within the doubt, nothing left to wear: gear to track is 0.70 mm; "
        "rule 1 asks at least 0.71 mm." in words
    )
    assert "Not legal" not in words


def test_chart_of_wear_names_the_limit_that_the_sentence_names(
    car: Car, client: Client, client_of: Callable[[Person], Client]
) -> None:
    # The mean of both counts, and the smaller has to keep the rule: 19.2 and half of
    # 0.03 is 19.215, which no tyre of 19.21 keeps.
    for hours, sizes in enumerate((("20.03", "20.00"), ("19.93", "19.90"))):
        pass_car(car, sizes, hours=hours + 1)
    words = text_of(client.get(f"/cars/{car.tag}"))
    assert "Legal down to rear tyres of 19.22 mm" in words
    assert "limit 19.22<" in words


def test_no_rule_that_breaks_is_told(client_of: Callable[[Person], Client]) -> None:
    builders.make_edition(RULES[2:])
    car = garage.make_car()
    words = text_of(client_of(car.owner).get(f"/cars/{car.tag}"))
    assert "No rule breaks within 3 mm of wear." in words


def test_car_without_measured_tyres_is_told_what_to_measure(
    client_of: Callable[[Person], Client],
) -> None:
    builders.make_edition(RULES)
    car = builders.make_car()
    words = text_of(client_of(car.owner).get(f"/cars/{car.tag}"))
    assert "Measure the diameters of both rear tyres" in words


def test_rules_on_what_is_not_known_are_named(client: Client, car: Car) -> None:
    other = garage.make_car(owner=car.owner, without=frozenset({"weight_car"}))
    words = text_of(client.get(f"/cars/{other.tag}"))
    assert "These rules can only be judged on the block: 3." in words


def test_sent_back_sheet_has_no_wear_line(client: Client, car: Car) -> None:
    night = builders.make_night(Edition.objects.get())
    sheet = builders.make_sheet(entry=builders.make_entry(car=car, night=night))
    builders.send_back(sheet.number, act=builders.act(minutes=3))
    assert "Legal down to" not in text_of(client.get(f"/sheet/{sheet.number}"))


def test_long_history_costs_as_many_queries_as_a_short_one(
    client: Client, car: Car
) -> None:
    def visit() -> None:
        assert client.get(f"/cars/{car.tag}").status_code == 200

    pass_car(car, ("20.02", "20.00"), hours=1)
    visit()
    few = len(queries_of(visit))
    for hours in range(2, 8):
        pass_car(car, ("20.00", "19.98"), hours=hours)
    assert len(queries_of(visit)) == few <= 26


def test_tyres_of_the_same_compound_on_other_cars_are_borrowed_from(car: Car) -> None:
    until = builders.NOW + dt.timedelta(days=30)
    worn = car.fitted.filter(position__in=REAR_TYRES.values())
    pks = list(worn.values_list("part", flat=True))
    other = garage.make_car(owner=car.owner)
    for hours, sizes in [(1, ("20.02", "20.00")), (24, ("19.92", "19.90"))]:
        pass_car(other, sizes, hours=hours)
    found = tyres_of_compound(pks, but_of=car, before=until)
    assert [one.diameter_mm.tolist() for one in found] == [[20.02, 19.92], [20.0, 19.9]]
    assert [one.nights.tolist() for one in found] == [[0.0, 1.0]] * 2
    assert {one.car for one in found} == {other.pk}
    assert tyres_of_compound(pks, but_of=other, before=until) == []
    Tyre.objects.filter(part__in=pks).update(compound="")
    assert tyres_of_compound(pks, but_of=car, before=until) == []


def test_tyres_just_fitted_last_as_long_as_their_likes(car: Car) -> None:
    other = garage.make_car(owner=car.owner)
    # What was raced long ago is not borrowed from, so these nights were just now.
    begun = (builders.now() - builders.NOW) / dt.timedelta(hours=1) - 24 * 7
    for night in range(5):
        sizes = (f"{20.02 - 0.08 * night:.2f}", f"{20.00 - 0.08 * night:.2f}")
        pass_car(other, sizes, hours=begun + 24 * night)
    wear = wear_of_car(load_cars(Car.objects.filter(pk=car.pk))[0])
    assert wear is not None
    assert wear.left is not None
    # Twenty down to 19.2 at 0.08 a night, of another car's tyres.
    assert wear.left.low < 10 < wear.left.high
    assert wear.left.per_night_mm == pytest.approx(0.08, abs=0.005)


# --- room for parts -----------------------------------------------------------


def test_room_is_stored_by_the_owner_and_shown_again(client: Client, car: Car) -> None:
    page = client.get(f"/cars/{car.tag}/sizes")
    assert 'value="9.2"' in page.content.decode()
    typed = garage.ROOM | {"axle_to_bar_mm": "3/8in", "arch_width_mm": "None"}
    stored = client.post(f"/cars/{car.tag}/sizes", typed, follow=True)
    assert "2 sizes stored." in text_of(stored)
    assert 'value="3/8in"' in client.get(f"/cars/{car.tag}/sizes").content.decode()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"slot_low_mm": "9.9"}, "Motor slot, nearest (9.9 mm) is greater than"),
        ({"slot_low_mm": "none"}, "none"),
        ({"axle_room_mm": "95"}, "“95” was typed; 0 to 80 mm was expected"),
    ],
)
def test_room_that_cannot_be_is_refused_and_kept(
    client: Client, car: Car, typed: dict[str, str], said: str
) -> None:
    page = client.post(f"/cars/{car.tag}/sizes", typed)
    assert page.status_code == 422
    assert said in text_of(page)
    (kept,) = typed.values()
    assert f'value="{kept}"' in page.content.decode()


def test_axle_is_asked_with_the_geometry(client: Client, car: Car) -> None:
    texts = {"axle_diameter": "2.36"}
    store_geometry(car, texts, taken_with=None, act=builders.act(minutes=1))
    assert "Axle diameter" in text_of(client.get(f"/cars/{car.tag}/sizes"))
