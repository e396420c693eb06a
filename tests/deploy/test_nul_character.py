"""A NUL character, which PostgreSQL keeps nothing of, in every place of a request."""

from collections.abc import Callable

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.compute.roles import Role
from inventory.models import Person
from tests import builders
from tests.conftest import PASSWORD
from tests.deploy.test_sign_in import example_addresses

pytestmark = pytest.mark.django_db


@pytest.fixture
def everybody(client_of: Callable[[Person], Client]) -> Client:
    """Return the browser of somebody who may do everything."""
    client = client_of(builders.make_person(*Role))
    client.raise_request_exception = False
    return client


def test_no_address_breaks_on_it(everybody: Client) -> None:
    for address in example_addresses():
        for wrong in (f"{address}%00", address.replace("1", "%00", 1)):
            if "%00" in wrong:
                status = everybody.get(wrong).status_code
                assert status in {404, 405}, (wrong, status)


def test_no_query_breaks_on_it(everybody: Client) -> None:
    """By turns in a value and in a key: the door is the same for every address."""
    for n, address in enumerate(example_addresses()):
        query = ("q=a%00b", "%00=a")[n % 2]
        assert everybody.get(f"{address}?{query}").status_code == 400, address


def test_no_form_breaks_on_it(everybody: Client) -> None:
    for address in example_addresses():
        body = "note=a%00b&tags=%00&car=%00"
        answer = everybody.post(
            address, body, content_type="application/x-www-form-urlencoded"
        )
        assert answer.status_code == 400, address


def test_a_cookie_with_it_is_refused() -> None:
    client = Client()
    client.cookies[settings.SESSION_COOKIE_NAME] = "a" * 20
    header = f"{settings.SESSION_COOKIE_NAME}=aaaaaaaaaa\0"
    assert client.get("/sign-in", HTTP_COOKIE=header).status_code == 400


def test_a_file_may_hold_it(everybody: Client) -> None:
    file = SimpleUploadedFile("bag.csv", b"a\0b")
    assert everybody.post("/pairing", {"file": file}).status_code != 400


def test_a_name_with_it_is_no_name(person: Person) -> None:
    typed = {"username": "ro\0sa", "password": PASSWORD}
    # As a file's form would send it.
    assert Client().post("/sign-in", typed).status_code == 200
