"""Sign-in names: plain letters, and none that is taken for another."""

import pytest
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from inventory.actions.people.joining import add_person
from inventory.actions.refusals import RefusedError
from inventory.compute.roles import Role
from inventory.compute.sign_in_names import LONGEST, as_kept, is_plain, look_of
from inventory.models import Person
from inventory.models.people import look_in_sql
from tests import builders


@pytest.mark.parametrize("name", ["ada", "ada.wren", "a-2", "bo7", "x" * LONGEST])
def test_plain_names(name: str) -> None:
    assert is_plain(name)


@pytest.mark.parametrize(
    "name",
    ["", "7bo", "ada wren", "ädä", "аdа", "ada_w", "ada.", "a..b", "x" * (LONGEST + 1)],
)
def test_names_with_other_signs(name: str) -> None:
    assert not is_plain(name)


@pytest.mark.parametrize(
    ("one", "other"),
    [("bill", "bi11"), ("otto", "0tt0"), ("arnold", "amold"), ("ada.wren", "adawren")],
)
def test_names_that_look_alike(one: str, other: str) -> None:
    assert look_of(one) == look_of(other)


def test_a_name_is_kept_in_one_form() -> None:
    assert as_kept("  Ada ") == "ada"


@pytest.mark.django_db
@given(st.text(alphabet="abil01rnvmw.-", min_size=1, max_size=12))
def test_the_database_sees_the_same_look(name: str) -> None:
    with transaction.atomic():
        person = Person(sign_in_name=name, name="x", joined_at=builders.NOW)
        person.save()
        looks = Person.objects.annotate(look=look_in_sql())
        seen = looks.filter(pk=person.pk).values_list("look", flat=True).get()
        person.delete()
    assert seen == look_of(name)


@pytest.mark.django_db
def test_a_name_that_looks_like_anothers_is_refused_in_the_form_and_below_it() -> None:
    def add(sign_in_name: str) -> Person:
        return add_person(
            sign_in_name=sign_in_name,
            name="Somebody",
            password=None,
            roles=[Role.MEMBER],
            act=builders.act(),
        )

    assert add("Bill").sign_in_name == "bill"
    for name, said in (
        ("bi11", "looks like"),
        ("BILL", "is taken"),
        ("b ill", "plain"),
    ):
        with pytest.raises(RefusedError, match=said) as refusal:
            add(name)
        assert refusal.value.field == "sign_in_name"
    with pytest.raises(IntegrityError), transaction.atomic():
        Person(sign_in_name="bi-ll", name="Eve", joined_at=builders.NOW).save()
