"""Gauges: standing, checks that bar, the gauge study and what is adopted of it."""

import csv
import datetime as dt
from pathlib import Path

import pytest
from django import forms
from django.test import Client
from django.utils import timezone
from django.utils.html import strip_tags

from inventory.actions.gauges import (
    MasterReadings,
    ModeFigures,
    add_mode,
    adopt_repeatability,
    check_by_readings,
)
from inventory.actions.refusals import RefusedError
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.measuring.instruments import (
    CheckKind,
    CheckResult,
    GaugeStanding,
    Instrument,
)
from inventory.compute.numbers.units import Unit
from inventory.compute.roles import Role
from inventory.files.studies import StudyTableError, read_study
from inventory.forms.gauge_choice import offer_gauges
from inventory.loaders.gauges import load_gauges
from inventory.models import AuditRow, Gauge, GaugeCheck, GaugeMode
from tests import builders

pytestmark = pytest.mark.django_db

AIAG = Path(__file__).parents[2] / "references" / "data" / "aiag_msa_grr_90.csv"


@pytest.fixture
def scrutineer() -> Client:
    client = Client()
    client.force_login(builders.make_scrutineer())
    return client


@pytest.fixture
def caliper() -> GaugeMode:
    return builders.make_gauge(checked=None)


def standing(mode: GaugeMode, *, minutes: float = 0) -> GaugeStanding:
    later = builders.NOW + dt.timedelta(minutes=minutes)
    return load_gauges(later, pk=mode.pk)[0].standing


def check(
    mode: GaugeMode, *texts: str, zero: str = "", kind: CheckKind = CheckKind.MASTER
) -> GaugeCheck:
    said = MasterReadings(kind=kind, master_text="20", texts=texts, zero_text=zero)
    return check_by_readings(mode, said, act=builders.act())


def test_gauge_is_barred_until_it_has_passed(caliper: GaugeMode) -> None:
    assert standing(caliper) is GaugeStanding.NEVER_CHECKED
    check(caliper, "20.01", "20.02")
    assert standing(caliper) is GaugeStanding.NO_CHECK_TONIGHT
    check(caliper, "20.01", zero="0", kind=CheckKind.TONIGHT)
    assert standing(caliper) is GaugeStanding.GOOD
    assert standing(caliper, minutes=13 * 60) is GaugeStanding.NO_CHECK_TONIGHT
    assert standing(caliper, minutes=366 * 24 * 60) is GaugeStanding.OVERDUE


@pytest.mark.parametrize(
    ("texts", "zero", "result"),
    [
        # The permissible error is 0.02 mm: exactly that is inside, a step more is not.
        (["20.02"], "", CheckResult.PASSED),
        (["20.03"], "", CheckResult.FAILED),
        (["19.98"], "", CheckResult.PASSED),
        (["20.00"], "0.03", CheckResult.FAILED),
        (["0.7874in"], "0", CheckResult.PASSED),  # 20.000 mm (C9-01)
    ],
)
def test_check_passes_inside_the_permissible_error(
    caliper: GaugeMode, texts: list[str], zero: str, result: CheckResult
) -> None:
    assert check(caliper, *texts, zero=zero).result == result
    failed = result is CheckResult.FAILED
    assert (standing(caliper) is GaugeStanding.FAILED) is failed


def test_page_says_what_a_gauge_lacks_after_a_check(scrutineer: Client) -> None:
    mode = builders.make_gauge(checked=None)
    said = {"zero": "0", "master": "20", "texts": "20.00"}

    def after(kind: CheckKind) -> str:
        page = scrutineer.post(
            f"/gauges/{mode.pk}/check", said | {"kind": kind}, follow=True
        )
        return page.content.decode()

    assert "It is not in use yet" in after(CheckKind.TONIGHT)
    assert "not in use yet" not in after(CheckKind.MASTER)


def test_failed_gauge_is_barred_until_it_passes_again(caliper: GaugeMode) -> None:
    check(caliper, "20.5")
    assert load_gauges(builders.NOW, pk=caliper.pk)[0].is_barred
    check(caliper, "20.0")
    assert not load_gauges(builders.NOW, pk=caliper.pk)[0].is_barred


def test_check_with_a_text_that_is_no_size_writes_nothing(caliper: GaugeMode) -> None:
    with pytest.raises(RefusedError) as refusal:
        check(caliper, "2O.0")
    assert refusal.value.field == "texts"
    assert not GaugeCheck.objects.exists()


def aiag_rows() -> str:
    with AIAG.open(encoding="utf-8") as file:
        rows = list(csv.reader(line for line in file if not line.startswith("#")))
    return "\n".join("\t".join(row) for row in rows)


def test_study_table_is_read_into_parts_people_trials() -> None:
    # The published set has negative values; degrees may be negative, sizes too.
    table = read_study(aiag_rows(), unit=Unit.MILLIMETRE)
    assert table.shape == (10, 3, 3)
    # Checksum of the set: total sum of squares 94.6471 (C4-01).
    assert ((table - table.mean()) ** 2).sum() == pytest.approx(94.6471, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "0 rows"),
        ("1;A;1", "3 columns"),
        ("1;A;1;2.0\n1;A;1;2.1", "twice"),
        ("1;A;1;2.0\n1;A;2;x", "Row 2"),
        ("1;A;1;2.0\n" * 5001, "5001 rows"),
    ],
)
def test_study_table_that_is_wrong_is_refused_by_row(text: str, word: str) -> None:
    with pytest.raises(StudyTableError, match=word):
        read_study(text, unit=Unit.MILLIMETRE)


def test_decimal_comma_is_read_where_a_semicolon_divides() -> None:
    table = read_study(
        "# Caliper A, May\np;who;t;v\n1;A;1;2,5\n1;A;2;2,6", unit=Unit.MILLIMETRE
    )
    assert table.ravel().tolist() == [2.5, 2.6]


def test_study_page_shows_what_is_published_and_adopts_it(
    scrutineer: Client, caliper: GaugeMode
) -> None:
    said = {"table": aiag_rows(), "method": "analysis of variance"}
    page = scrutineer.post(f"/gauges/{caliper.pk}/study", said).content.decode()
    # C4-06 and C4-08: EV 0.199933, GRR 27.86 % of all.
    assert "0.1999" in strip_tags(page)
    assert "27.9" in page
    scrutineer.post(f"/gauges/{caliper.pk}/adopt", said)
    now = GaugeMode.objects.get(replaced_at=None)
    assert now.repeatability == 199_933
    assert GaugeMode.objects.count() == 2
    with pytest.raises(RefusedError) as refusal:
        adopt_repeatability(caliper, 0.1, act=builders.act())
    assert refusal.value.code == "figures_replaced"


def test_study_that_is_no_table_keeps_what_was_pasted(
    scrutineer: Client, caliper: GaugeMode
) -> None:
    page = scrutineer.post(
        f"/gauges/{caliper.pk}/study",
        {"table": "1;A;1;2.0", "method": "average and range"},
    )
    assert page.status_code == 422
    assert "1;A;1;2.0" in page.content.decode()
    refused = scrutineer.post(
        f"/gauges/{caliper.pk}/adopt", {"table": "", "method": ""}
    )
    assert refused.status_code == 422


def test_gauge_comes_into_use_and_is_checked_by_pages(scrutineer: Client) -> None:
    assert "No gauge yet" in scrutineer.get("/gauges").content.decode()
    new = {
        "name": "Caliper A",
        "instrument": "caliper",
        "mode": "outside",
        "unit": "mm",
        "resolution": "0.01",
        "max_permissible_error": "x",
        "check_every_days": "180",
    }
    assert scrutineer.post("/gauges/new", new).status_code == 422
    made = scrutineer.post("/gauges/new", new | {"max_permissible_error": "0,02"})
    gauge = Gauge.objects.get()
    assert made["Location"] == f"/gauges/{gauge.pk}"
    assert gauge.modes.get().max_permissible_error == 20_000
    again = scrutineer.post("/gauges/new", new | {"max_permissible_error": "0.02"})
    assert again.status_code == 422
    said = {"kind": "against master", "master": "20", "texts": "20.05"}
    page = scrutineer.post(f"/gauges/{gauge.modes.get().pk}/check", said, follow=True)
    assert "failed" in page.content.decode()
    refused = scrutineer.post(
        f"/gauges/{gauge.modes.get().pk}/check", said | {"texts": "?"}
    )
    assert refused.status_code == 422


def test_keeper_and_scrutineer_check_gauges_a_member_does_not(
    caliper: GaugeMode,
) -> None:
    for role, status in [(Role.MEMBER, 403), (Role.PARTS_KEEPER, 200)]:
        client = Client()
        client.force_login(builders.make_person(role))
        assert client.get(f"/gauges/{caliper.pk}/check").status_code == status


def test_figures_are_changed_with_a_reason_and_the_old_ones_stay(
    scrutineer: Client, caliper: GaugeMode
) -> None:
    page = scrutineer.get(f"/gauges/{caliper.pk}/figures").content.decode()
    assert 'value="0.02"' in page
    said = {
        "resolution": "0.001",
        "max_permissible_error": "0,01",
        "repeatability": "",
        "reason": "",
    }
    address = f"/gauges/{caliper.pk}/figures"
    assert scrutineer.post(address, said).status_code == 422
    refused = scrutineer.post(address, said | {"resolution": "-1", "reason": "x"})
    assert "An error is not below 0." in refused.content.decode()
    short = scrutineer.post(address, said | {"reason": "short"})
    assert "“short” is no reason" in short.content.decode()
    why = {"reason": "the certificate says so"}
    assert scrutineer.post(address, said | why)["Location"].endswith(
        f"/gauges/{caliper.gauge_id}"
    )
    now = GaugeMode.objects.get(gauge=caliper.gauge, replaced_at=None)
    assert (now.resolution, now.max_permissible_error) == (1_000, 10_000)
    row = AuditRow.objects.get(event="gauge.figures_changed")
    assert row.detail["before"]["max_permissible_error"] == 20_000
    assert row.detail["reason"] == "the certificate says so"
    page = scrutineer.get(f"/gauges/{caliper.gauge_id}").content.decode()
    assert "until" in page
    # Another had changed them meanwhile.
    late = scrutineer.post(address, said | why)
    assert "have just been replaced" in late.content.decode()


def test_gauge_gets_one_more_mode(scrutineer: Client, caliper: GaugeMode) -> None:
    address = f"/gauges/{caliper.gauge_id}/modes/new"
    assert "One more mode" in scrutineer.get(address).content.decode()
    said = {
        "mode": "depth",
        "unit": "mm",
        "resolution": "0.01",
        "max_permissible_error": "0.03",
        "repeatability": "0.02",
    }
    wrong = scrutineer.post(address, said | {"resolution": "fine"}).content.decode()
    assert "“fine”" in wrong or "fine" in wrong
    assert scrutineer.post(address, said).status_code == 302
    assert caliper.gauge.modes.get(mode="depth").repeatability == 20_000
    again = scrutineer.post(address, said)
    assert again.status_code == 422
    assert "already; change its figures there" in again.content.decode()


def test_list_has_a_row_an_instrument_and_what_is_ready_comes_first(
    scrutineer: Client,
) -> None:
    now = timezone.now()
    never = builders.make_gauge(checked=None)
    scale = builders.make_gauge(instrument=Instrument.SCALE, unit=Unit.GRAM, at=now)
    ready = builders.make_gauge(at=now)
    builders.check(ready.gauge, CheckResult.PASSED, kind=CheckKind.TONIGHT, at=now)
    depth = ModeFigures(
        mode=Mode.DEPTH,
        unit=Unit.MILLIMETRE,
        resolution=10_000,
        max_permissible_error=40_000,
    )
    add_mode(ready.gauge, depth, act=builders.act())
    page = scrutineer.get("/gauges")
    shown = [
        (title, [one.gauge for one in rows]) for title, rows in page.context["groups"]
    ]
    assert shown == [
        ("Ready tonight", [ready.gauge]),
        ("Not checked tonight", [scale.gauge]),
        ("Not to be used: needs a check", [never.gauge]),
    ]
    # Three ways of two calipers; a scale is held in no way that has a name.
    assert page.content.decode().count('class="chip"') == 3
    assert str(scale) == scale.gauge.name
    assert str(never) == f"{never.gauge.name}, outside"
    # And where a gauge is chosen, the failed one is not, nor one that tells gaps.
    builders.make_gauge(instrument=Instrument.SLIP_GAUGE, at=now)
    field = forms.ChoiceField()
    every = offer_gauges(field, load_gauges(now))
    offered = [words for _, words in field.widget.choices]
    assert offered == [
        f"{ready.gauge.name}, depth",
        f"{ready.gauge.name}, outside",
        f"{scale.gauge.name} — no check tonight",
    ]
    # One that failed while the page was open is refused with a sentence, not lost.
    assert never.pk in every
    assert field.valid_value(never.pk)


@pytest.mark.parametrize(
    ("instrument", "mode", "status"),
    [("scale", "depth", 422), ("scale", "outside", 302), ("caliper", "depth", 302)],
)
def test_instrument_has_only_the_modes_that_it_is_held_in(
    scrutineer: Client, instrument: str, mode: str, status: int
) -> None:
    said = {
        "name": "New one",
        "instrument": instrument,
        "mode": mode,
        "unit": "g" if instrument == "scale" else "mm",
        "resolution": "0.1",
        "max_permissible_error": "0.2",
        "check_every_days": "180",
    }
    page = scrutineer.post("/gauges/new", said)
    assert page.status_code == status
    if status == 422:
        assert "A scale is not held so; outside was expected." in (
            page.content.decode()
        )
