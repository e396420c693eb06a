"""A form is sent once, however often it is tapped before the answer comes."""

from playwright.sync_api import Page

from inspection.models import Car
from tests import builders
from tests.browser.conftest import PHONE, Visitor


def fill(page: Page) -> None:
    page.goto("/cars/new")
    page.get_by_label("Number it usually races with").fill("71")
    page.get_by_label("Name", exact=True).fill("Heron")
    page.get_by_label("Class", exact=True).select_option(index=1)


#: Which of two taps at once the page would have sent.
TAP_TWICE = """() => {
  const form = document.querySelector("#main form[method=post]");
  const tap = () => new SubmitEvent("submit", {bubbles: true, cancelable: true});
  return [form.dispatchEvent(tap()), form.dispatchEvent(tap())];
}"""


def test_second_tap_before_the_answer_sends_nothing(page_of: Visitor) -> None:
    builders.make_class()
    page = page_of(builders.make_person(), viewport=PHONE, touch=True)
    fill(page)
    assert page.evaluate(TAP_TWICE) == [True, False]


def test_form_is_sent_again_after_the_way_back(page_of: Visitor) -> None:
    builders.make_class()
    page = page_of(builders.make_person(), viewport=PHONE, touch=True)
    for count in (1, 2):
        fill(page)
        page.get_by_role("button", name="Register it").tap()
        page.wait_for_url("**/sizes")
        assert Car.objects.count() == count
        page.go_back()
