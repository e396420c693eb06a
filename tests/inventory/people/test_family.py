"""Declared family: two people, either way round, on a page of the admin's."""

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from inventory.actions.people.families import declare_family, take_back_family
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow, FamilyTie, Person
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def one() -> Person:
    return builders.make_person(name="Ada Wimple")


@pytest.fixture
def other() -> Person:
    return builders.make_person(name="Bo Trott")


def test_family_is_declared_once_whichever_is_named_first(
    one: Person, other: Person
) -> None:
    tie = declare_family(other, one, act=builders.act())
    assert (tie.first, tie.second) == (one, other)
    for first, second, code in (
        (one, other, "family_already"),
        (other, one, "family_already"),
        (one, one, "same_person"),
    ):
        with pytest.raises(RefusedError) as refusal:
            declare_family(first, second, act=builders.act())
        assert (refusal.value.code, refusal.value.field) == (code, "other")
    assert FamilyTie.objects.count() == 1


def test_family_of_family_is_not_family(one: Person, other: Person) -> None:
    third = builders.make_person()
    declare_family(one, other, act=builders.act())
    declare_family(third, other, act=builders.act())
    assert FamilyTie.objects.with_family({one.pk}) == {one.pk, other.pk}
    assert FamilyTie.objects.with_family({third.pk}) == {third.pk, other.pk}
    assert FamilyTie.objects.with_family({one.pk, other.pk}) == {
        one.pk,
        other.pk,
        third.pk,
    }
    assert FamilyTie.objects.with_family(()) == frozenset()


def test_database_keeps_each_tie_once_and_in_order(one: Person, other: Person) -> None:
    def write(first: Person, second: Person) -> None:
        with transaction.atomic():
            FamilyTie.objects.create(
                first=first,
                second=second,
                declared_by=builders.make_admin(),
                declared_at=builders.NOW,
            )

    write(one, other)
    for first, second in ((one, other), (other, one), (one, one)):
        with pytest.raises(IntegrityError):
            write(first, second)


def test_family_is_taken_back_and_the_audit_names_nobody(
    one: Person, other: Person
) -> None:
    take_back_family(declare_family(one, other, act=builders.act()), act=builders.act())
    assert not FamilyTie.objects.exists()
    rows = AuditRow.objects.filter(event__startswith="family.").order_by("pk")
    assert [row.event for row in rows] == ["family.declared", "family.taken_back"]
    for row in rows:
        said = f"{row.subject} {row.detail}"
        assert f"{one.pk} " in said
        assert one.name not in said


def test_page_declares_takes_back_and_keeps_what_was_typed(
    one: Person, other: Person
) -> None:
    client = Client()
    client.force_login(builders.make_admin())
    assert "/people/family" in client.get("/people").content.decode()
    refused = client.post("/people/family", {"one": one.name, "other": "Nobody"})
    assert refused.status_code == 422
    assert f'value="{one.name}"' in refused.content.decode()
    twice = client.post("/people/family", {"one": one.name, "other": one.name})
    assert "two people" in twice.content.decode()
    client.post("/people/family", {"one": one.name, "other": other.name})
    tie = FamilyTie.objects.get()
    assert "Ada Wimple and Bo Trott" in client.get("/people/family").content.decode()
    client.post(f"/people/family/{tie.pk}/back")
    assert not FamilyTie.objects.exists()
