"""Facts, readings and retirements of parts, put right with what stood before."""

import pytest
from django.test import Client

from inventory.actions.corrections.facts import PartCorrection, correct_part
from inventory.actions.corrections.strikes import strike_part_reading
from inventory.actions.readings import record_part_readings
from inventory.actions.refusals import RefusedError
from inventory.actions.stock import retire_part
from inventory.compute.gears import true_outside_diameter_mm
from inventory.compute.roles import Role
from inventory.compute.stock import (
    GearFacts,
    GearRole,
    PartQuantity,
    Section,
    TyreFacts,
)
from inventory.models import AuditRow, FactChange, Part, PartEstimate, PartReading
from tests import builders
from tests.inventory import bags

pytestmark = pytest.mark.django_db

WHY = "the packet was mixed up"


@pytest.fixture
def keeper() -> Client:
    client = Client()
    client.force_login(builders.make_person(Role.PARTS_KEEPER))
    return client


@pytest.fixture
def tyre() -> Part:
    return builders.make_part(TyreFacts(compound="soft"))


def measured(part: Part, *texts: str, minutes: float = 0) -> PartEstimate:
    return record_part_readings(
        part,
        PartQuantity.TYRE_DIAMETER,
        texts,
        gauge=bags.gauge(),
        act=builders.act(minutes=minutes),
    )


def strike(reading: PartReading | None, minutes: float = 10) -> None:
    assert reading is not None
    strike_part_reading(
        reading, reason="a burr on the jaw", act=builders.act(minutes=minutes)
    )


def diameter(part: Part) -> float | None:
    found = part.estimates.current().filter(quantity=PartQuantity.TYRE_DIAMETER)
    value = found.values_list("value", flat=True).first()
    return None if value is None else value / 1e6


def text(answer: object) -> str:
    return answer.content.decode()  # type: ignore[attr-defined,no-any-return]


def test_fact_is_put_right_and_the_old_one_stays_beside_it(
    keeper: Client, tyre: Part
) -> None:
    said = {
        "correct-name": "left",
        "correct-compound": "firm",
        "correct-width_code": "",
        "correct-wheel": "",
        "correct-drawer": "",
        "correct-version": tyre.version,
    }
    address = f"/parts/{tyre.tag}/correct"
    none = keeper.post(address, said | {"correct-reason": "so"})
    assert none.status_code == 422
    assert "“so” is no reason" in text(none)
    assert 'value="firm"' in text(none)
    assert not FactChange.objects.exists()
    keeper.post(address, said | {"correct-reason": WHY})
    tyre = Part.objects.get()
    assert (tyre.tyre.compound, tyre.name) == ("firm", "left")
    change = FactChange.objects.get(fact="compound")
    assert (change.before, change.after, change.reason) == ("soft", "firm", WHY)
    page = text(keeper.get(f"/parts/{tyre.tag}"))
    assert "<s>soft</s> → firm" in page
    assert WHY in page
    row = AuditRow.objects.get(event="part.corrected")
    assert row.detail["before"] == {"name": "", "compound": "soft"}


def test_another_drawer_needs_no_reason_and_nothing_is_no_change(tyre: Part) -> None:
    facts = {"compound": "soft", "width_code": "", "wheel": ""}
    same = PartCorrection(name="", drawer="", version=tyre.version, facts=facts)
    correct_part(tyre, same, act=builders.act())
    assert not FactChange.objects.exists()
    moved = PartCorrection(name="", drawer="B2", version=tyre.version, facts=facts)
    correct_part(tyre, moved, act=builders.act())
    assert FactChange.objects.get().after == "B2"
    with pytest.raises(RefusedError) as refusal:
        correct_part(tyre, moved, act=builders.act())
    assert refusal.value.code == "changed_since"


def test_gear_with_other_teeth_has_another_diameter() -> None:
    gear = builders.make_part(GearFacts(role=GearRole.SPUR, teeth=28))
    record_part_readings(
        gear,
        PartQuantity.GEAR_DIAMETER,
        ["18.00"],
        gauge=bags.gauge(),
        act=builders.act(),
    )
    said = PartCorrection(
        name="",
        drawer="",
        version=gear.version,
        reason=WHY,
        facts={
            "role": GearRole.SPUR,
            "teeth": 27,
            "pitch_name": "",
            "family": "",
            "fixing": gear.gear.fixing,
            "cut_for_teeth": None,
        },
    )
    correct_part(gear, said, act=builders.act(minutes=1))
    gear = Part.objects.get()
    now = gear.estimates.current().get()
    # Flat jaws read an odd count short: D (1 + cos(π/z)) / 2 is what they read.
    assert now.value / 1e6 == pytest.approx(true_outside_diameter_mm(18, 27), abs=1e-6)
    assert now.value > 18_000_000
    cut = PartCorrection(
        name="",
        drawer="",
        version=gear.version,
        reason=WHY,
        facts=dict(said.facts) | {"cut_for_teeth": 9},
    )
    with pytest.raises(RefusedError) as refusal:
        correct_part(gear, cut, act=builders.act())
    assert refusal.value.field == "cut_for_teeth"


def test_struck_reading_stays_and_the_others_count(keeper: Client, tyre: Part) -> None:
    first = measured(tyre, "18.40", "18.42", "19.42")
    bad = first.readings.get(text="19.42")
    address = f"/parts/{tyre.tag}/strike"
    for wrong in ({"strike-reading": bad.pk}, {"strike-reading": 0}):
        answer = keeper.post(address, wrong | {"strike-reason": "x"})
        assert answer.status_code == 422
    assert diameter(tyre) == pytest.approx((18.40 + 18.42 + 19.42) / 3, abs=1e-6)
    keeper.post(
        address, {"strike-reading": bad.pk, "strike-reason": "a slip of the key"}
    )
    assert diameter(tyre) == pytest.approx(18.41, abs=1e-6)
    now = tyre.estimates.current().get(quantity=PartQuantity.TYRE_DIAMETER)
    assert (now.count, now.taken_at, now.restates) == (2, first.taken_at, first)
    page = text(keeper.get(f"/parts/{tyre.tag}"))
    assert "<s>19.42</s>" in page
    assert "a slip of the key" in page
    # It counts no more: it cannot be struck again, nor what stood beside it.
    with pytest.raises(RefusedError) as refusal:
        strike(bad)
    assert refusal.value.code == "counts_no_more"


def test_where_all_is_struck_the_set_before_counts_and_then_none(tyre: Part) -> None:
    measured(tyre, "18.40")
    measured(tyre, "18.60", "18.62", minutes=1)
    while diameter(tyre) != pytest.approx(18.40, abs=1e-6):
        strike(
            PartReading.objects.filter(
                estimate__superseded_at=None, estimate__part=tyre
            ).first()
        )
    strike(PartReading.objects.filter(estimate__superseded_at=None).first(), minutes=20)
    assert diameter(tyre) is None
    assert PartReading.objects.filter(strike=None).exists()


def test_form_that_diameters_made_follows_them() -> None:
    rows = [
        bags.row("18.40", "18.55", "18.90", tag="A1"),
        bags.row("18.40", tag="A2", number=2),
    ]
    bags.take_rows(rows)
    tyre = Part.objects.get(tag="A1")
    of_form = {"quantity": PartQuantity.OUT_OF_ROUND}
    # Less what scatter makes of it: squares of 0.03 and a step of 0.01, 3.66 of them
    # in the range of three (1.693² + 0.888², from memory), 2 of them in that of two.
    variance = 0.03**2 + 0.01**2 / 12
    three, two = (0.5**2 - 3.655 * variance) ** 0.5, (0.15**2 - 2 * variance) ** 0.5
    form = tyre.estimates.current().get(**of_form).value
    assert form == pytest.approx(three * 1e6, abs=100)
    strike(PartReading.objects.get(estimate__part=tyre, text="18.90"))
    form = tyre.estimates.current().get(**of_form).value
    assert form == pytest.approx(two * 1e6, abs=100)
    sections = PartReading.objects.filter(
        estimate__part=tyre, estimate__superseded_at=None
    ).values_list("section", flat=True)
    assert set(sections) == {Section.MIDDLE}
    # One that was measured itself stays.
    record_part_readings(
        tyre,
        PartQuantity.OUT_OF_ROUND,
        ["0.07"],
        gauge=bags.gauge(),
        act=builders.act(minutes=30),
    )
    strike(
        PartReading.objects.get(
            estimate__part=tyre, estimate__superseded_at=None, text="18.55"
        ),
        minutes=40,
    )
    assert tyre.estimates.current().get(**of_form).value == 70_000


def test_retirement_is_taken_back_by_its_page(keeper: Client, tyre: Part) -> None:
    retire_part(tyre, reason="cut", act=builders.act())
    address = f"/parts/{tyre.tag}/restore"
    assert keeper.post(address, {"reason": ""}).status_code == 422
    assert "no reason" in text(keeper.post(address, {"reason": "oops"}))
    keeper.post(address, {"reason": WHY})
    assert Part.objects.get().state == "in stock"
    assert WHY in text(keeper.get(f"/parts/{tyre.tag}"))
