"""
A club moves in: from ``--no-demo`` to printed results, with no shell after that.

All of it goes by what the pages show; the test asks the database nothing.  Steps (the
pages that somebody came to) and minutes are printed.
"""

import csv
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pytest
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from inspection.compute.quantities import FrontCarrier, Layout
from inventory.actions.people.beginning import make_beginning
from inventory.compute.measuring import GaugeMode, Instrument
from inventory.compute.roles import Role
from tests import builders
from tests.browser.conftest import DESK, PHONE, Visitor
from tests.browser.hands import columns_asked, open_seal, take_all
from tests.browser.test_whole_night import GOOD
from tests.browser.walks import Walk, begin, check_gauge, scanned, settle, write_rules
from tests.conftest import PASSWORD
from tests.deploy.servers import SERVE, running

CARS, PARTS = 20, 20
NEW_PASSWORD = "nine slow carts roll by"
#: The goal of the whole, without pauses: what the club was promised.
MINUTES = 15


@pytest.fixture
def printed_address(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[tuple[str, str]]:
    """Give the address of an empty club and the one it prints to begin it."""
    if request.param == "as started":
        words = [*SERVE, "--port=0", f"--data={tmp_path / 'club'}", "--no-demo"]
        with running(*words) as (_, address, lines):
            (line,) = [one for one in lines if one.startswith("Begin your club: ")]
            yield address.rstrip("/"), line.split()[3]
        return
    live: LiveServer = request.getfixturevalue("live_server")
    yield live.url, f"{live.url}/begin/{make_beginning(at=builders.now())}"


def write(path: Path, *rows: tuple[object, ...]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    return path


def people_list(folder: Path) -> Path:
    return write(
        folder / "people.csv",
        ("Name", "Sign-in name", "Roles"),
        ("Di Marl", "di", Role.MEMBER),
        ("Bo Kell", "kell", Role.MEMBER),
    )


def gauge_list(folder: Path) -> Path:
    rows = [
        ("Caliper 1", Instrument.CALIPER, GaugeMode.OUTSIDE, "mm", "0.01", "0.02"),
        ("Caliper 1", Instrument.CALIPER, GaugeMode.STEP, "mm", "0.01", "0.04"),
        ("Scale", Instrument.SCALE, GaugeMode.OUTSIDE, "g", "0.1", "0.2"),
        ("Slips", Instrument.SLIP_GAUGE, GaugeMode.OUTSIDE, "mm", "0.01", "0.004"),
    ]
    rows += [
        (f"Caliper {n}", Instrument.CALIPER, GaugeMode.OUTSIDE, "mm", "0.01", "0.03")
        for n in range(2, 9)
    ]
    headings = ("Gauge", "Type", "Mode", "Unit", "Resolution", "MPE")
    return write(folder / "gauges.csv", headings, *rows)


def car_list(folder: Path) -> Path:
    headings = ("No", "Car name", "Member", "Class", "Motor", "Front")
    kind = ("Club cars", Layout.IN_LINE, FrontCarrier.GUIDE)
    owners = ("Di Marl", "Bo Kell", "Ida Penn")
    rows = [(n, f"Heron {n}", owners[n % 3], *kind) for n in range(1, CARS + 1)]
    return write(folder / "cars.csv", headings, *rows)


def part_list(folder: Path) -> Path:
    rows = [
        (f"T{n}", "soft", f"{18.3 + n / 50:.2f}", f"{18.31 + n / 50:.2f}")
        for n in range(PARTS)
    ]
    return write(folder / "tyres.csv", ("No", "Compound", "Ø 1", "Ø 2"), *rows)


def bring_in(walk: Walk, page: str, file: Path, taken: str) -> None:
    """Bring a list in from the page that shows what is in it."""
    walk.open(page)
    walk.follow("From a list")
    walk.page.get_by_label("List").set_input_files(file)
    walk.press("Read the list")
    walk.press(re.compile("^Take"))
    expect(walk.page.get_by_text(taken)).to_be_visible()


def bring_parts_in(walk: Walk, file: Path) -> None:
    walk.open("/parts")
    walk.follow("From a list")
    form = walk.page.locator("form#upload")
    form.locator("input[type=file]").set_input_files(file)
    form.get_by_label("Name of the batch").fill("March bag")
    choices = form.get_by_label("Gauge").locator("option").all_inner_texts()
    (caliper,) = [one for one in choices if one.startswith("Caliper 1, outside")]
    form.get_by_label("Gauge").select_option(label=caliper)
    walk.press("Look at the file")
    take = walk.page.get_by_role("button", name=f"Take {PARTS} parts in")
    expect(take).to_be_visible()
    walk.press(f"Take {PARTS} parts in")


def invite_scrutineer(chief: Walk, page_of: Visitor, **of: Any) -> Walk:
    """Let a second device take the code off the first one's screen."""
    chief.take("People")
    chief.follow("Invite somebody")
    chief.fill(name="Ida Penn")
    chief.page.get_by_label("scrutineer", exact=True).check()
    chief.press("Invite")
    ida = Walk(page_of(viewport=PHONE, **of), is_close=chief.is_close)
    ida.open(scanned(chief.page))
    ida.page.get_by_label("Sign-in name").fill("ida")
    ida.fill(password=PASSWORD)
    ida.press("Join")
    expect(ida.page.get_by_role("heading", name="Tonight").first).to_be_visible()
    return ida


def new_password(chief: Walk, person: str, device: Walk, password: str) -> None:
    """Hand somebody a link in the hall, at which they choose a password."""
    chief.open("/people")
    chief.follow(person)
    chief.press("Make a password link")
    address = scanned(chief.page)
    device.open(address)
    if device.page.get_by_text("is signed in here").count():
        device.press("Sign out")
        device.open(address)
    device.page.get_by_label("New password").fill(password)
    device.press("Keep it")


def sign_in(walk: Walk, name: str, password: str) -> None:
    walk.page.get_by_label(re.compile("sign.in name", re.IGNORECASE)).fill(name)
    walk.page.get_by_label("Password").fill(password)
    with walk.page.expect_navigation():
        walk.main.get_by_role("button", name="Sign in", exact=True).click()
    walk.look()


def open_night(chief: Walk) -> None:
    chief.take("A night")
    chief.fill(name="First night")
    chief.press("Set it up")
    # All is done: the list is gone.
    expect(chief.page.get_by_text("Before the first night")).to_have_count(0)
    chief.follow("Enter a car")
    chief.follow("Many cars")
    chief.page.get_by_label(f"all cars of Club cars ({CARS})").check()
    chief.press("Enter them")
    chief.open("/")
    chief.press("Open the night")


def enter_guest(chief: Walk) -> None:
    """Enter a guest by the keyboard alone: nothing is clicked, no account is made."""
    chief.follow("A guest")
    expect(chief.page.get_by_label("Driver", exact=True)).to_be_focused()
    keys = [*"Gil Lowe", "Tab", *"Straggler", "Enter"]
    began = time.monotonic()
    with chief.page.expect_navigation():
        for key in keys:
            chief.page.keyboard.press(key)
    took = time.monotonic() - began
    chief.look()
    expect(chief.page.get_by_text("Gil Lowe drives")).to_be_visible()
    # At two keys a second, which anybody types, and the page.
    by_hand = len(keys) / 2 + took
    print(f"a guest: {len(keys)} keys, {took:.1f} s, by hand {by_hand:.0f} s")  # noqa: T201


def check_car(walk: Walk, car: str) -> None:
    """Take a car from the board over the block to its seal."""
    walk.open("/")
    walk.follow(car)
    walk.press("On the block")
    measure(walk.page)
    open_seal(walk.page)
    walk.press("Seal: passed")


def measure(page: Page) -> None:
    expect(page.locator("#block-page[data-ready]")).to_be_attached()
    page.wait_for_timeout(450)
    take_all(page, {column: GOOD[column] for column in columns_asked(page)})


def hear_protest(chief: Walk, driver: Walk) -> None:
    driver.open("/")
    driver.follow("Protests")
    driver.follow("Heron 3")
    driver.page.get_by_label("Rule", exact=True).select_option(index=1)
    driver.fill(what_is_wrong="It looks lighter than the class asks.")
    driver.press("Protest")
    chief.open("/")
    chief.follow("Protests, 1 not ruled")
    chief.follow(re.compile("^Protest"))
    chief.page.get_by_role("radio", name="rejected").check()
    chief.fill(reason="The scale was checked, and it is heavy enough.")
    chief.press("Rule so")
    expect(chief.main).to_contain_text("rejected")


def close_and_print(chief: Walk, file: Path) -> None:
    chief.open("/")
    chief.follow("Close the night")
    chief.press("Close the night")
    chief.open("/")
    chief.follow("Night's list")
    chief.page.pdf(path=file, prefer_css_page_size=True)
    reader = pypdf.PdfReader(file)
    words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    for said in ("First night", "Nether Racers", "Straggler", "Gil Lowe", "rejected"):
        assert said in words
    # Three passed; their seals are signed by who sealed them.
    assert words.count("Ida Penn") >= 3
    # Twenty-one cars of a line each, the head of the seals, a protest.
    assert len(reader.pages) <= 2


WIDTHS = [
    pytest.param(DESK, "served here", id="desk"),
    pytest.param(PHONE, "as started", id="phone", marks=pytest.mark.long),
]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("viewport", "printed_address"), WIDTHS, indirect=["printed_address"]
)
def test_from_nothing_to_printed_results_without_a_shell(
    # Before the browsers, so that it serves them until they are closed.
    printed_address: tuple[str, str],
    page_of: Visitor,
    viewport: dict[str, int],
    tmp_path: Path,
) -> None:
    address, to_begin = printed_address
    is_long = viewport == PHONE
    chief = Walk(page_of(viewport=viewport, address=address), is_close=is_long)

    def said(words: str) -> None:
        minutes = (time.monotonic() - chief.began) / 60
        print(f"{words}: page {chief.steps}, {minutes:.1f} min")  # noqa: T201

    begin(chief, to_begin)
    settle(chief)
    write_rules(chief)
    said("begun, named, rules published")
    ida = invite_scrutineer(chief, page_of, address=address)
    said("a scrutineer joined")
    bring_in(chief, "/people", people_list(tmp_path), "2 rows of people are in")
    bring_in(chief, "/gauges", gauge_list(tmp_path), "11 rows of gauges are in")
    bring_in(chief, "/cars", car_list(tmp_path), f"{CARS} rows of cars are in")
    for name, size in (("Caliper 1", "20"), ("Scale", "100"), ("Slips", "1")):
        check_gauge(chief, name, size)
    bring_parts_in(chief, part_list(tmp_path))
    said("people, gauges, cars and parts brought in")
    open_night(chief)
    enter_guest(chief)
    said("the night is open, a guest entered")
    for car in ("Heron 1", "Heron 3", "Straggler"):
        check_car(ida, car)
    said("three cars checked")
    driver = Walk(page_of(viewport=PHONE, address=address), is_close=is_long)
    new_password(chief, "Di Marl", driver, PASSWORD)
    sign_in(driver, "di", PASSWORD)
    hear_protest(chief, driver)
    said("a protest heard")
    close_and_print(chief, tmp_path / "list.pdf")
    said("closed and printed")
    new_password(chief, "Ida Penn", ida, NEW_PASSWORD)
    sign_in(ida, "ida", NEW_PASSWORD)
    expect(ida.page.get_by_role("heading", name="First night")).to_be_visible()
    said("a forgotten password was reset")
    others = ida.steps + driver.steps
    print(f"pages: {chief.steps} of the chief, {others} of others")  # noqa: T201
    assert time.monotonic() - chief.began < MINUTES * 60
