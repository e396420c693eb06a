"""
Two people change the same thing: the second is told, and undoes nothing unseen.

Each page that shows what stands, to be said anew, is opened by both before either
sends it.
"""

import re
import threading
from typing import Any, NamedTuple

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from inspection.actions.race_nights import plan_night
from inspection.models import RaceNight
from inventory.actions.club import ClubSettings, settle_club
from inventory.compute.roles import Role
from inventory.models import Club
from tests import builders
from tests.architecture.test_permissions import MATRIX, make_club


class Case(NamedTuple):
    """A page, and a field of it as the one and as the other says it."""

    name: str
    field: str
    one: str
    other: str


CASES = [
    Case("inventory:club", "place", "in the cellar", "under the roof"),
    Case("inspection:edit_car", "name", "Blue", "Green"),
    Case("inspection:edit_night", "name", "Round 7", "Round 8"),
    Case("inspection:change_block", "name", "by the door", "by the window"),
    Case("inspection:edition_settings", "note", "no glue", "some glue"),
]


def signed_in(name: str) -> Client:
    client = Client()
    client.force_login(builders.make_person(*Role, name=name))
    return client


def as_sent(answer: Any) -> dict[str, Any]:
    """Give what a browser would send of the form of an answer."""
    said = {field.html_name: field.value() for field in answer.context["form"]}
    return {
        name: getattr(value, "pk", value)
        for name, value in said.items()
        if value is not None and value is not False
    }


def settle() -> None:
    by = builders.act(builders.make_person(Role.ADMIN))
    settle_club(ClubSettings(name="The Lane", place="at home"), act=by)


def planned_night() -> RaceNight:
    return plan_night(
        name="The hill climb",
        date=builders.NOW.date(),
        place="The hall",
        editions={builders.make_class(): builders.make_edition()},
        act=builders.act(),
    )


@pytest.mark.django_db
def test_the_second_of_two_is_told_who_changed_what_and_keeps_the_own_words() -> None:
    club = make_club()
    settle()
    anna, ben = signed_in("Anna"), signed_in("Ben")
    for case in CASES:
        if case.name == "inspection:edit_night":
            # Of one that is open, name and day stand.
            address = reverse(case.name, args=[planned_night().pk])
        else:
            address = reverse(case.name, args=MATRIX[case.name].args(club))
        first, second = (as_sent(who.get(address)) for who in (anna, ben))
        before = str(first.get(case.field, ""))
        assert anna.post(address, first | {case.field: case.one}).status_code == 302
        refused = ben.post(address, second | {case.field: case.other})
        assert refused.status_code == 422, case
        (said,) = refused.context["form"].non_field_errors()
        assert re.match(r"Anna has changed this at \d\d:\d\d since", said), said
        assert f"“{before}” became “{case.one}”" in said
        again = as_sent(refused)
        assert again[case.field] == case.other
        # What stands now was said to Ben: he may put his own in its place.
        assert ben.post(address, again).status_code == 302, case
        now = as_sent(ben.get(address))
        assert now[case.field] == case.other


@pytest.mark.django_db
def test_a_page_that_nobody_changed_is_kept_and_a_forged_one_is_not() -> None:
    settle()
    anna = signed_in("Anna")
    address = reverse("inventory:club")
    said = as_sent(anna.get(address))
    assert anna.post(address, said | {"name": "The Hall"}).status_code == 302
    assert Club.objects.get().name == "The Hall"
    # Sent a second time from the same page, by the way back: it is not as seen.
    assert anna.post(address, said | {"name": "The Loft"}).status_code == 422
    forged = said | {"seen": said["seen"][:-2], "name": "The Loft"}
    assert anna.post(address, forged).status_code == 422
    assert Club.objects.get().name == "The Hall"


@pytest.mark.django_db(transaction=True)
def test_of_two_that_send_at_the_same_moment_one_is_told() -> None:
    settle()
    clients = [signed_in("Anna"), signed_in("Ben")]
    address = reverse("inventory:club")
    forms = [as_sent(client.get(address)) for client in clients]
    both, found = threading.Barrier(2), list[int]()

    def send(place: int) -> None:
        try:
            both.wait(30)
            answer = clients[place].post(address, forms[place] | {"place": f"{place}"})
            found.append(answer.status_code)
        finally:
            connection.close()

    threads = [threading.Thread(target=send, args=(place,)) for place in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(found) == [302, 422]
