"""Things that tests need, made through the same actions as the pages use."""

import datetime as dt
import io
import uuid
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from PIL import Image

from inspection.actions.cars import (
    CarFacts,
    TakenWith,
    confirm_car,
    register_car,
    store_geometry,
)
from inspection.actions.fit.fitted import fit_part
from inspection.actions.race_nights import enter_car, open_night, plan_night
from inspection.actions.readings import Taken, TypedReading, take_reading
from inspection.actions.rulebooks import draft_edition, publish_edition
from inspection.actions.seals import seal_sheet
from inspection.actions.sheets import start_sheet
from inspection.compute.judging.outcomes import DecisionRule
from inspection.compute.night.entries import Decision, PartPosition
from inspection.compute.quantities import WORDS_OF_CAR
from inspection.compute.quantities.quantity import FrontCarrier, Layout
from inspection.compute.rulebooks.requirements import Answer
from inspection.compute.rulebooks.text import RulebookText, RuleText
from inspection.models import (
    Car,
    CarValue,
    Edition,
    Entry,
    RaceClass,
    RaceNight,
    Rulebook,
    Seal,
    Sheet,
)
from inventory.actions.audit import Act
from inventory.actions.gauges import CheckFound, ModeFigures, add_gauge, check_gauge
from inventory.actions.people.joining import add_person, found_club
from inventory.actions.stock import NewPart, receive_part
from inventory.compute.measuring.instruments import CheckKind, CheckResult, Instrument
from inventory.compute.measuring.readings import GaugeMode as Mode
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Ability, Role
from inventory.compute.stock import PartFacts, TyreFacts
from inventory.models import Gauge, GaugeMode, Part, Person
from tests.numbering import next_number

NOW = dt.datetime(2026, 5, 8, 19, 0, tzinfo=dt.UTC)


def now() -> dt.datetime:
    """Give the real time, which pages go by."""
    return dt.datetime.now(tz=dt.UTC)


def make_admin() -> Person:
    """Give the club's founder, made once."""
    found = Person.objects.filter(sign_in_name="founder").first()
    return found or found_club(
        sign_in_name="founder", name="The Founder", password=None, act_at=NOW
    )


def act(person: Person | None = None, *, minutes: float = 0) -> Act:
    """Say who acts (the founder unless said) and when, minutes after NOW."""
    return Act(by=person or make_admin(), at=NOW + dt.timedelta(minutes=minutes))


def make_person(*roles: Role, password: str | None = None, name: str = "") -> Person:
    number = next_number()
    return add_person(
        sign_in_name=f"person{number}",
        name=name or f"Person {number}",
        password=password,
        roles=roles or [Role.MEMBER],
        act=act(),
    )


def make_scrutineer() -> Person:
    return make_person(Role.SCRUTINEER)


def make_gauge(
    *,
    instrument: Instrument = Instrument.CALIPER,
    mode: Mode = Mode.OUTSIDE,
    unit: Unit = Unit.MILLIMETRE,
    checked: CheckResult | None = CheckResult.PASSED,
    check_every_days: int = 365,
    at: dt.datetime = NOW,
) -> GaugeMode:
    """Give a gauge in one mode: step 0.01, permissible error 0.02, checked."""
    gauge = add_gauge(
        name=f"{instrument} {next_number()}",
        instrument=instrument,
        modes=[
            ModeFigures(
                mode=mode, unit=unit, resolution=10_000, max_permissible_error=20_000
            )
        ],
        check_every_days=check_every_days,
        act=act(),
    )
    if checked is not None:
        check(gauge, checked, at=at)
    return gauge.modes.get()


def check(
    gauge: Gauge,
    result: CheckResult,
    *,
    kind: CheckKind = CheckKind.MASTER,
    at: dt.datetime = NOW,
) -> None:
    check_gauge(
        gauge, CheckFound(kind=kind, result=result), act=Act(by=make_admin(), at=at)
    )


def rule(number: str, quantity: str, **limits: Any) -> RuleText:
    """Write a rule; limits in millimetres (or the quantity's unit)."""
    sizes: dict[str, Any] = {
        name: round(Decimal(str(limits.pop(name))) * 1_000_000)
        for name in ("lower", "upper", "lower_after", "upper_after")
        if name in limits
    }
    return RuleText(
        number=number, sentence=f"Rule {number}", quantity=quantity, **sizes, **limits
    )


def make_part(facts: PartFacts | None = None, **said: Any) -> Part:
    """Give a part in stock: a tyre unless said."""
    new = NewPart(facts=facts or TyreFacts(compound="soft"), **said)
    return receive_part(new, act=act())


def fit(car: Car, part: Part, position: PartPosition = PartPosition.REAR_LEFT) -> None:
    fit_part(car, part, position, act=act())


SIMPLE_RULES = (
    rule("1", "weight_car", lower=80),
    rule("2", "tyre_diameter_rear", lower=18),
    rule("3", "motor_sealed", required=Answer.YES),
)


def make_class(name: str = "Saloon") -> RaceClass:
    found = RaceClass.objects.filter(name=name).first()
    if found:
        return found
    rulebook, _ = Rulebook.objects.get_or_create(name="Club rules")
    return RaceClass.objects.create(name=name, rulebook=rulebook)


def make_edition(
    rules: Iterable[RuleText] = SIMPLE_RULES,
    *,
    decision_rule: DecisionRule = DecisionRule.SIMPLE_ACCEPTANCE,
    confidence: Decimal = Decimal("0.95"),
    published: bool = True,
) -> Edition:
    make_class()
    text = RulebookText(
        rulebook="Club rules",
        edition=Edition.objects.count() + 1,
        decision_rule=decision_rule,
        confidence=confidence,
        note="",
        rules=tuple(rules),
    )
    edition = draft_edition(text, act=act())
    return publish_edition(edition.pk, act=act()) if published else edition


def make_car(
    *,
    owner: Person | None = None,
    carrier: FrontCarrier = FrontCarrier.FRONT_WHEELS,
    layout: Layout = Layout.IN_LINE,
    geometry: Mapping[str, str] | None = None,
    gauge: GaugeMode | None = None,
    is_confirmed: bool = True,
    number: str = "",
) -> Car:
    """Register a car; a keeper has looked at what it is, unless said."""
    number = number or str(next_number())
    car = register_car(
        CarFacts(
            number=number,
            name=f"Car {number}",
            owner=owner or make_person(),
            race_class=make_class(),
            layout=layout,
            front_carrier=carrier,
        ),
        act=act(),
    )
    if is_confirmed:
        confirm_car(car, act=act(_looker()))
    if geometry:
        taken = TakenWith(gauge_mode=gauge, gauge_check=None) if gauge else None
        keeper = make_person(Role.PARTS_KEEPER)
        store_geometry(car, geometry, taken_with=taken, act=act(keeper))
    return car


def sizes_of_cars() -> QuerySet[CarValue]:
    """Give what is stored of cars besides what they are registered as."""
    return CarValue.objects.exclude(column__in=WORDS_OF_CAR)


def _looker() -> Person:
    found = Person.objects.filter(name="The Looker").first()
    return found or make_person(Role.PARTS_KEEPER, name="The Looker")


def make_night(edition: Edition | None = None) -> RaceNight:
    night = plan_night(
        name=f"Night {next_number()}",
        date=NOW.date(),
        place="The hall",
        editions={make_class(): edition or make_edition()},
        act=act(),
    )
    return open_night(night, act=act())


def make_entry(
    *,
    car: Car | None = None,
    night: RaceNight | None = None,
    driver: Person | None = None,
) -> Entry:
    car = car or make_car()
    return enter_car(
        night or make_night(),
        car,
        race_class=make_class(),
        driver=driver or car.owner,
        act=act(),
    )


def make_sheet(*, entry: Entry | None = None, by: Person | None = None) -> Sheet:
    return start_sheet(
        (entry or make_entry()).pk, block=None, changed=(), act=act(by, minutes=1)
    )


def send_back(number: str, *, act: Act) -> Seal:
    """Send a car back that nothing speaks against: the chief's word, with a reason."""
    if not act.by.may(Ability.SEND_BACK_BY_WORD):
        act = Act(by=make_person(Role.CHIEF_SCRUTINEER), at=act.at)
    reason = "The rear wheels rub on the body."
    return seal_sheet(number, decision=Decision.SENT_BACK, act=act, reason=reason)


def seal_as_read(sheet: Sheet, *, by: Person, passed: bool = False) -> Seal:
    """Seal a sheet by what was read on it."""
    decision = Decision.PASSED if passed else Decision.SENT_BACK
    return seal_sheet(sheet.number, decision=decision, act=act(by, minutes=3))


def picture(
    *, size: tuple[int, int] = (40, 30), form: str = "PNG", colour: str = "teal"
) -> bytes:
    """Give a picture as a file, of one colour."""
    file = io.BytesIO()
    Image.new("RGB", size, colour).save(file, form)
    return file.getvalue()


def read(
    sheet: Sheet,
    column: str,
    text: str = "",
    *,
    gauge: GaugeMode | None = None,
    by: Person | None = None,
    **typed: Any,
) -> Taken:
    """Take one reading as a page would."""
    return take_reading(
        sheet.number,
        TypedReading(
            reading_id=typed.pop("reading_id", None) or uuid.uuid4(),
            column=column,
            text=text,
            gauge_mode_id=gauge.pk if gauge else None,
            **typed,
        ),
        act=act(by, minutes=2),
    )
