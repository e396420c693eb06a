"""What a club chooses: what members see, how figures are written, who is kept."""

import datetime as dt
from collections.abc import Callable
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction
from django.template import Context, Template
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from deploy.middleware import club_figures
from inspection.loaders.night.protests import minutes_to_protest
from inspection.loaders.old_people import due_to_be_erased
from inspection.models import Finding, RaceNight
from inventory.actions.audit import Act
from inventory.actions.club import ClubSettings, name_club, settle_club
from inventory.compute.club_ways import DecimalSign, LengthShown, MembersSee
from inventory.compute.numbers import (
    Unit,
    format_u,
    format_value,
    format_with_u,
    writing,
)
from inventory.compute.roles import Role
from inventory.drawing.numbers import shown_length
from inventory.models import AuditRow, Club, Person
from inventory.templatetags.figures import bare_figure, doubt
from tests import builders
from tests.inspection.seals_night import make_sealed_night

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person], Client]


def figure(arguments: str) -> str:
    page = Template(f"{{% load figures %}}{{% figure {arguments} %}}")
    with writing(club_figures):
        return page.render(Context())


def test_figures_are_written_the_clubs_way() -> None:
    assert '<span class="whole">25</span><span class="part">.40</span>' in figure(
        '25.4 2 "mm"'
    )
    said = ClubSettings(
        name="Nether Racers",
        lengths_in=LengthShown.INCH,
        decimal_sign=DecimalSign.COMMA,
    )
    settle_club(said, act=builders.act())
    # 25.4 mm are an inch exactly; 17.1 mm are 0.673228… of them.
    inch = figure('25.4 2 "mm"')
    assert '<span class="whole">1</span><span class="part">,0000</span>' in inch
    assert '<span class="unit">in</span>' in inch
    assert '<span class="part">,6732</span>' in figure('17.1 2 "mm"')
    weight = figure('85.25 1 "g" inwards="up"')
    assert '<span class="whole">85</span><span class="part">,3</span>' in weight
    assert figure('None 2 "mm"').count("–") == 1


IN_INCHES = ClubSettings(
    name="Inch Racers", lengths_in=LengthShown.INCH, decimal_sign=DecimalSign.COMMA
)


def test_sentences_are_written_the_clubs_way_and_files_are_not() -> None:
    settle_club(IN_INCHES, act=builders.act())
    assert format_value(25.4, decimals=2, unit=Unit.MILLIMETRE) == "25.40 mm"
    with writing(club_figures):
        # 25.4 mm are an inch exactly: ISO 31-1, by definition.
        assert format_value(25.4, decimals=2, unit=Unit.MILLIMETRE) == "1,0000 in"
        assert format_value(92.44, decimals=1, unit=Unit.GRAM) == "92,4 g"
        assert (
            format_value(25.4, decimals=2, unit=Unit.MILLIMETRE, keeps_unit=True)
            == "25,40 mm"
        )
        # Both in one unit, and both ending at one place.
        assert format_with_u(25.4, 0.0254, unit=Unit.MILLIMETRE) == "1,0000 ± 0,0010 in"
        assert format_u(0.0254, unit=Unit.MILLIMETRE) == "0,0010 in"
        assert shown_length(18.3) == "0,7205 in"
        # 18.3 mm are 0.720472… in; the least that will do is not a hair less.
        assert shown_length(18.302, inwards="up") == "0,7206 in"
        # In a table of which another column says the unit.
        assert '<span class="part">,72047</span>' in bare_figure(18.3, 3)
    assert format_with_u(25.4, 0.0254, unit=Unit.MILLIMETRE) == "25.400 ± 0.025 mm"


def test_a_sheet_s_page_says_one_unit_and_its_file_another(
    client_of: ClientOf,
) -> None:
    edition = builders.make_edition(
        (builders.rule("1", "tyre_diameter_rear", lower=25.4),)
    )
    sheet = builders.make_sheet(
        entry=builders.make_entry(night=builders.make_night(edition))
    )
    gauge = builders.make_gauge()
    for side in ("left", "right"):
        builders.read(sheet, f"tyre_diameter_rear_{side}", "25.40", gauge=gauge)
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    builders.seal_as_read(sheet, by=chief, passed=True)
    settle_club(IN_INCHES, act=builders.act())
    desk = client_of(chief)
    page = desk.get(f"/sheet/{sheet.number}").content.decode()
    assert "at least 1,0000 in" in page
    assert "<b>25.40</b>" in page
    # Value and doubt beside it are in one unit: no u is a quarter of an inch.
    u_mm = float(Finding.objects.get(rule__number="1").u_value or 0) / 1e6
    shown = doubt(u_mm, "mm", is_bare=True)
    assert "unit" not in shown
    with writing(club_figures):
        shown = doubt(u_mm, "mm", is_bare=True)
    assert shown in page
    assert f"{u_mm / 25.4:.2g}".replace(".", ",")[2:] in shown
    kept = desk.get(f"/sheet/{sheet.number}/file").content.decode()
    assert "25.40" in kept
    assert "1,0000" not in kept
    call_command("check_seals", stdout=StringIO())


def test_a_name_alone_leaves_the_rest_as_it_was() -> None:
    said = ClubSettings(name="One", members_see=MembersSee.ALL, shows_hall=False)
    settle_club(said, act=builders.act())
    club = name_club(name="Two", place="", act=builders.act())
    assert (club.members_see, club.shows_hall) == (MembersSee.ALL, False)


def test_the_page_keeps_what_was_chosen(client_of: ClientOf) -> None:
    admin = client_of(builders.make_admin())
    page = admin.get("/club").content.decode()
    assert 'name="shows_hall" aria-describedby' in page
    typed = {
        "name": "Nether Racers",
        "members_see": "every sealed sheet",
        "lengths_in": "in",
        "decimal_sign": ",",
        "keeps_people_months": "24",
    }
    assert admin.post("/club", typed)["Location"] == "/club"
    club = Club.objects.get()
    assert (club.lengths_in, club.decimal_sign) == ("in", ",")
    assert (club.keeps_people_months, club.shows_hall) == (24, False)
    wrong = admin.post("/club", typed | {"keeps_people_months": "-1"})
    assert wrong.status_code == 422
    with pytest.raises(IntegrityError), transaction.atomic():
        Club.objects.update(decimal_sign=";")


def test_the_hall_display_is_switched_off_and_on() -> None:
    settle_club(ClubSettings(name="Dark", shows_hall=False), act=builders.act())
    off = Client().get("/hall")
    assert off.status_code == 404
    assert "The hall display is off" in off.content.decode()
    settle_club(ClubSettings(name="Lit"), act=builders.act())
    assert Client().get("/hall").status_code == 200


def test_members_open_sealed_sheets_of_others_where_the_club_lets_them(
    client_of: ClientOf,
) -> None:
    sheet = builders.make_sheet()
    chief = builders.make_person(Role.CHIEF_SCRUTINEER)
    page = reverse("inspection:sheet", args=[sheet.number])
    night = RaceNight.objects.get()
    listed = reverse("inspection:night_list", args=[night.pk])
    member = client_of(builders.make_person())
    settle_club(
        ClubSettings(name="Open", members_see=MembersSee.ALL), act=builders.act()
    )
    # An open sheet is nobody else's yet.
    assert member.get(page).status_code == 404
    builders.send_back(sheet.number, act=builders.act(chief, minutes=3))
    assert member.get(page).status_code == 200
    assert f'href="{page}"' in member.get(listed).content.decode()
    settle_club(ClubSettings(name="Shut"), act=builders.act())
    assert member.get(page).status_code == 404
    assert f'href="{page}"' not in member.get(listed).content.decode()


def test_who_does_not_come_any_more_is_listed_and_erased(client_of: ClientOf) -> None:
    # Long ago all of these joined; the driver raced on the night of NOW.
    sheet = builders.make_sheet()
    gone = builders.make_person(name="Ida Penn")
    admin_person = builders.make_admin()
    late = builders.NOW + dt.timedelta(days=400)
    months_ago = builders.NOW + dt.timedelta(days=360)
    due = due_to_be_erased(late, months=12)
    assert gone in due
    assert admin_person not in due
    assert not due_to_be_erased(late, months=0)
    assert not due_to_be_erased(months_ago, months=12)
    AuditRow.objects.create(at=late, actor=gone, event="x.y", subject="x")
    assert gone not in due_to_be_erased(late, months=12)
    driver = sheet.entry.driver
    RaceNight.objects.update(date=late.date())
    assert driver not in due_to_be_erased(late, months=12)


def test_the_page_and_the_command_erase_as_the_club_has_said(
    client_of: ClientOf,
) -> None:
    admin = client_of(builders.make_admin())
    long_ago = timezone.now() - dt.timedelta(days=900)
    first, second = builders.make_person(name="Ida Penn"), builders.make_person()
    Person.objects.filter(pk__in=[first.pk, second.pk]).update(joined_at=long_ago)
    assert "Nobody is due" in admin.get("/people/gone").content.decode()
    said = ClubSettings(name="Brief", keeps_people_months=24)
    settle_club(said, act=builders.act())
    page = admin.get("/people/gone").content.decode()
    assert "Ida Penn" in page
    assert "for 24 months" in page
    Person.objects.filter(pk=second.pk).update(joined_at=timezone.now())
    assert admin.post("/people/gone")["Location"] == "/people/gone"
    first.refresh_from_db()
    assert (first.name, first.is_active) == ("erased person", False)
    Person.objects.filter(pk=second.pk).update(joined_at=long_ago)
    assert erased_by_command() == "1 erased.\n"
    row = AuditRow.objects.filter(event="person.erased").latest("pk")
    assert (row.actor, row.detail) == (None, {"months": 24})


def erased_by_command(**options: bool) -> str:
    out = StringIO()
    call_command("erase_old_people", stdout=out, **options)
    return out.getvalue()


def test_whoever_is_due_is_erased_by_itself_while_the_club_is_in_use(
    client_of: ClientOf,
) -> None:
    # All that is sealed here was sealed longer ago than the club keeps people.
    scrutineer = builders.make_scrutineer()
    make_sealed_night(scrutineer)
    now = timezone.now()
    assert now - builders.NOW > dt.timedelta(days=62)
    settle_club(ClubSettings(name="Brief", keeps_people_months=1), act=builders.act())
    # Nobody did anything for a month: the clock is wrong, or the club rests.
    assert erased_by_command(by_itself=True) == "0 erased.\n"
    admin = builders.make_admin()
    page = client_of(admin).get("/people/gone").content.decode()
    assert scrutineer.name in page.partition("Due within a month")[0]
    settle_club(
        ClubSettings(name="Brief", keeps_people_months=1), act=Act(by=admin, at=now)
    )
    assert erased_by_command(by_itself=True) != "0 erased.\n"
    scrutineer.refresh_from_db()
    assert scrutineer.erased_at is not None
    # The audit says so, and every seal verifies.
    subjects = AuditRow.objects.filter(event="person.erased", actor=None)
    assert f"person {scrutineer.pk}" in subjects.values_list("subject", flat=True)
    call_command("check_seals", stdout=StringIO())


def test_who_would_be_erased_within_a_month_is_shown_before(
    client_of: ClientOf,
) -> None:
    admin = builders.make_admin()
    soon = builders.make_person(name="Ida Penn")
    months, days = 12, 12 * 30.4375
    settle_club(
        ClubSettings(name="Brief", keeps_people_months=months), act=builders.act()
    )
    joined = timezone.now() - dt.timedelta(days=days - 20)
    Person.objects.filter(pk=soon.pk).update(joined_at=joined)
    page = client_of(admin).get("/people/gone").content.decode()
    assert "Nobody is due" in page
    assert "Ida Penn" in page.partition("Due within a month")[2]


def test_time_to_protest_is_a_setting_of_each_class(client_of: ClientOf) -> None:
    saloon = builders.make_class()
    admin = client_of(builders.make_admin())
    assert 'href="/club/protests"' in admin.get("/club").content.decode()
    wrong = admin.post("/club/protests", {"race_class": saloon.pk, "minutes": "0"})
    assert wrong.status_code == 422
    typed = {"race_class": saloon.pk, "minutes": "45"}
    page = admin.post("/club/protests", typed, follow=True).content.decode()
    assert "Saloon may protest for 45 minutes" in page
    assert minutes_to_protest(saloon.pk) == 45
