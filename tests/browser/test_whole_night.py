"""
A whole night of twelve cars by two scrutineers, from an empty club, in Chromium.

A guest comes late, a scale fails in the middle, a protest is upheld, a car is drawn
after the race and the night is closed.  What people press is counted by the browser.
"""

import re
import time
from collections.abc import Mapping

import pytest
from playwright.sync_api import Page, expect

from inspection.loaders.seals.heads import head_of_night
from inspection.models import Entry, Protest, RaceNight, SampleDraw, Seal, Sheet
from inventory.models import Person
from tests.browser.conftest import PHONE, Visitor
from tests.browser.hands import columns_asked, open_block, open_seal, take_all
from tests.browser.walks import Walk, begin, check_gauges, settle, write_rules
from tests.conftest import PASSWORD

CARS = 12
#: What a good car reads by the first rulebook; what is stored then is read once.
GOOD: Mapping[str, str] = {
    "weight_car": "92.4",
    "tyre_diameter_rear_left": "18.52",
    "tyre_diameter_rear_right": "18.49",
    "width_rear": "63.10",
    "tyre_width_rear": "9.02",
    "gear_diameter": "16.90",
    "wheelbase_left": "95.02",
    "wheelbase_right": "95.06",
    "guide_lead": "100.1",
    "guide_flange_height": "8.0",
    "gear_position_y": "4.0",
    "axle_height_rear_left": "8.50",
    "axle_height_rear_right": "8.48",
    "axle_station_span_rear": "30.0",
    "tyres_treated": "no",
    "driver_and_interior": "yes",
}
WHY = "It looks lighter than the class asks."
#: Counted where the browser says that a person did it, over all pages of a visit.
COUNT_HANDS = """
for (const [kind, key] of [["keydown", "keys"], ["pointerdown", "taps"]])
  addEventListener(kind, event => {
    if (event.isTrusted && !event.repeat)
      localStorage.setItem(key, 1 + Number(localStorage.getItem(key) || 0));
  }, true);
"""


class Hands(Walk):
    """Somebody at the desk, or on the block, whose keys and taps are counted."""

    def __init__(self, page: Page) -> None:
        super().__init__(page)
        page.context.add_init_script(COUNT_HANDS)
        page.context.set_default_timeout(60_000)

    @property
    def count(self) -> dict[str, int]:
        return {
            key: int(self.page.evaluate(f"localStorage.getItem('{key}') || 0"))
            for key in ("keys", "taps")
        }

    def type(self, label: str, text: str) -> None:
        self.page.get_by_label(label, exact=True).press_sequentially(text)

    # The block.

    def put_on(self, entry: Entry) -> None:
        self.open("/")
        with self.page.expect_navigation():
            self.page.locator(f"#entry-{entry.pk}").click()
        self.press("On the block")

    def measure(self, sheet: Sheet, **other: str) -> None:
        open_block(self.page, sheet)
        values = {**GOOD, **other}
        columns = columns_asked(self.page)
        take_all(self.page, {column: values[column] for column in columns})

    def seal(self, decision: str) -> None:
        open_seal(self.page)
        self.press(f"Seal: {decision}")

    def inspect(self, entry: Entry) -> Sheet:
        """Take a car from the board to its seal."""
        self.put_on(entry)
        sheet = last_sheet(entry)
        self.measure(sheet)
        self.seal("passed")
        return sheet


def last_sheet(entry: Entry) -> Sheet:
    return Sheet.objects.filter(entry=entry).latest("pk")


def enter(desk: Hands, night: RaceNight, driver: str, car: str) -> Entry:
    """Enter a car at the desk: nobody needs an account to race."""
    desk.open(f"/night/{night.pk}/desk")
    desk.type("Driver", driver)
    desk.type("Car", car)
    desk.press("Enter it")
    return Entry.objects.select_related("driver", "car").latest("pk")


def set_up(chief: Hands) -> RaceNight:
    for step in (begin, settle, write_rules, check_gauges):
        step(chief)
    for name, sign_in, role in (
        ("Cy Hob", "cy", "scrutineer"),
        ("Bo Kell", "kell", "scrutineer"),
        ("Di Marl", "di", "member"),
    ):
        chief.open("/people/new")
        chief.type("Name", name)
        chief.type("Sign-in name", sign_in)
        chief.type("First password", PASSWORD)
        box = chief.page.get_by_role("checkbox", name=role, exact=True)
        if not box.is_checked():
            box.check()
        chief.press("Add")
    chief.open("/night/new")
    chief.type("Name", "First night")
    chief.press("Set it up")
    return RaceNight.objects.get()


def check_scale(hands: Hands, name: str, reads: str) -> None:
    hands.open("/gauges")
    check = re.compile(f"Check\\s+{name}")
    with hands.page.expect_navigation():
        hands.main.get_by_role("link", name=check).first.click()
    hands.type("Master, its size", "100")
    hands.type("Readings of the master", reads)
    hands.press("Check")


def bring_second_scale(hands: Hands) -> None:
    hands.open("/gauges/new")
    hands.type("Name", "Spare balance")
    hands.page.get_by_label("Instrument", exact=True).select_option("scale")
    hands.page.get_by_label("Unit", exact=True).select_option("g")
    hands.type("Step of its display", "0.1")
    hands.type("Permissible error, plus or minus", "0.2")
    hands.page.locator("#main form button.primary").click()
    check_scale(hands, "Spare balance", "100")


def scale_fails(
    keeper: Hands, chief: Hands, sealed: Sheet, on_block: tuple[Hands, Sheet]
) -> None:
    """One car was sealed on it, one is on the block with a reading of it."""
    check_scale(keeper, "Scale", "91")
    bring_second_scale(keeper)
    hands, sheet = on_block
    open_block(hands.page, sheet)
    # At once, and behind the seal's button what to do about it.
    expect(hands.page.locator(".verdict-what")).to_contain_text("failed its check")
    open_seal(hands.page)
    expect(hands.page.get_by_text("failed its check at")).to_be_visible()
    expect(hands.page.locator("#seal-passed")).to_have_count(0)
    hands.press("Strike them, and read them again")
    hands.measure(sheet)
    hands.seal("passed")
    assert Seal.objects.get(sheet=sheet).decision == "passed"
    chief.open(f"/sheet/{sealed.number}")
    with chief.page.expect_navigation():
        chief.page.locator("a[href*='/doubt/']").first.click()
    chief.page.get_by_label("Measure again what is in question").check()
    chief.type("Reason", "The scale failed its check after it.")
    chief.press("Rule so")


def protest_is_upheld(driver: Hands, chief: Hands, other: Hands, entry: Entry) -> None:
    driver.open(f"/entry/{entry.pk}/protest")
    rule = entry.night.classes.get().edition.rules.get(number="1")
    driver.page.get_by_label("Rule", exact=True).select_option(str(rule.pk))
    driver.type("What is wrong", WHY)
    driver.press("Protest")
    raised = Protest.objects.get()
    chief.open(f"/protest/{raised.pk}")
    chief.press("Measure it again")
    again = last_sheet(entry)
    other.measure(again, weight_car="58.0")
    other.seal("send back")
    chief.open(f"/protest/{raised.pk}")
    chief.page.get_by_role("radio", name="upheld").check()
    chief.type("Reason", "Measured again, it is far too light.")
    chief.press("Rule so")
    assert Protest.objects.get().ruled.ruling == "upheld"


def sample_is_drawn(chief: Hands, scrutineer: Hands, night: RaceNight) -> Entry:
    chief.open(f"/night/{night.pk}/held")
    chief.press("Draw them")
    number = SampleDraw.objects.get().drawn[0].rpartition("/")[2]
    drawn = Entry.objects.get(night=night, number=number)
    scrutineer.open(f"/entry/{drawn.pk}/block")
    scrutineer.press("On the block")
    sheet = last_sheet(drawn)
    assert sheet.stage == "after"
    scrutineer.measure(sheet)
    scrutineer.seal("passed")
    return drawn


def close(chief: Hands, night: RaceNight) -> None:
    chief.open("/")
    with chief.page.expect_navigation():
        chief.main.get_by_role("link", name="Close the night").click()
    chief.press("Close the night")
    night.refresh_from_db()
    assert night.closed_at is not None
    head = head_of_night(night)
    assert head is not None
    # Twelve cars, one measured again for its scale, one for the protest, one drawn.
    assert head.count == CARS + 3
    chief.open(f"/night/{night.pk}/list")
    expect(chief.page.locator("#main")).to_contain_text(head.sha256)
    expect(chief.page.locator("#main")).to_contain_text("upheld")


def enter_eleven(chief: Hands, night: RaceNight) -> list[Entry]:
    """Enter eleven cars, open the night and show the hash of the sample's seed."""
    drivers = ["Di Marl", *(f"Racer {number}" for number in range(2, CARS))]
    entries = [
        enter(chief, night, name, f"Heron {place}")
        for place, name in enumerate(drivers, start=1)
    ]
    chief.open("/")
    chief.press("Open the night")
    chief.open(f"/night/{night.pk}/held")
    chief.type("Cars to draw after the race", "1")
    chief.press("Show the hash")
    return entries


def said(began: float, words: str) -> None:
    print(f"{words}: {time.monotonic() - began:.0f} s")  # noqa: T201


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_whole_night_of_twelve_cars_by_two_scrutineers(page_of: Visitor) -> None:
    began = time.monotonic()
    chief = Hands(page_of())
    night = set_up(chief)
    people = {one.sign_in_name: one for one in Person.objects.all()}
    driver = Hands(page_of(people["di"]))
    kell, cy = (Hands(page_of(people[one], viewport=PHONE)) for one in ("kell", "cy"))
    entries = enter_eleven(chief, night)
    said(began, "set up, eleven cars entered")
    for place in range(4):
        (kell if place % 2 else cy).inspect(entries[place])
    entries.append(enter(cy, night, "Late Guest", "Straggler"))
    # Up to here the scale is proven good.
    check_scale(cy, "Scale", "100")
    sealed = kell.inspect(entries[4])
    cy.put_on(entries[5])
    open_sheet = last_sheet(entries[5])
    cy.measure(open_sheet)
    scale_fails(kell, chief, sealed, (cy, open_sheet))
    again = last_sheet(entries[4])
    assert again.pk != sealed.pk
    kell.measure(again)
    kell.seal("passed")
    said(began, "six cars, a scale that failed")
    for place in range(6, CARS):
        (kell if place % 2 else cy).inspect(entries[place])
    states = set(Entry.objects.filter(night=night).values_list("state", flat=True))
    assert states == {"passed"}
    said(began, "twelve cars passed")
    # Kell sealed it, so Cy measures it again.
    protest_is_upheld(driver, chief, cy, entries[7])
    assert Entry.objects.get(pk=entries[7].pk).state == "sent back"
    drawn = sample_is_drawn(chief, kell, night)
    assert Seal.objects.filter(sheet__entry=drawn).count() >= 2
    said(began, "protest and sample")
    close(chief, night)
    said(began, "closed")
    count_hands(chief, driver, {kell: people["kell"], cy: people["cy"]})


def count_hands(
    chief: Hands, driver: Hands, scrutineers: Mapping[Hands, Person]
) -> None:
    """Print what was pressed, and hold what a car costs at the block."""
    for name, hands in (("chief", chief), ("driver", driver)):
        print(f"{name}: {hands.count}")  # noqa: T201
    for hands, person in scrutineers.items():
        cars = Seal.objects.filter(sealed_by=person).count()
        keys, taps = hands.count["keys"], hands.count["taps"]
        print(f"{person}: {cars} sheets, {keys} keys, {taps} taps")  # noqa: T201
        # Sixteen readings at most, of four or five figures and an Enter; two looks.
        assert 0 < keys / cars < 110
        # Its line on the board, on the block, and the seal; the gauges besides.
        assert 0 < taps / cars < 8
