"""
A real Chromium on the real service, and the promise that no page complains.

``page`` fails its test if the browser reported an error, a refusal by the content
security policy, or a request to another host.  ``page_of(person)`` opens the page
of somebody who has signed in, ``page_of(person, viewport=PHONE)`` on a phone.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
ASKED_FOR = (
    "status of 4",
    "net::ERR_INTERNET_DISCONNECTED",
    # What htmx says of it; an answer that is an error is an htmx:responseError.
    "htmx:sendError",
    "htmx:afterRequest",
)
DESK = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}

# Written before any script of the page: a refusal is kept where a test can see it.
KEEP_REFUSALS = """
window.refusals = [];
document.addEventListener("securitypolicyviolation", event =>
  window.refusals.push(`${event.violatedDirective} refused ${event.blockedURI}`));
"""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Run one headless Chromium for all tests, the one that the machine has."""
    # Playwright keeps an event loop in this thread, which Django would take for
    # a sign of asynchronous code.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    program = os.environ.get("FEELERBOOK_CHROMIUM") or next(
        filter(None, map(shutil.which, NAMES)), None
    )
    assert program, "The browser tests need Chromium."
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox"]
        )
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


class Visit:
    """One browser of one person, and what it complained of."""

    def __init__(self, context: BrowserContext, *, address: str) -> None:
        self.complaints: list[str] = []
        self.address = address
        context.add_init_script(KEEP_REFUSALS)
        context.on("console", self.hear)
        context.on("request", self.watch)
        context.set_default_timeout(10_000)
        self.context = context
        self.page = context.new_page()
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def hear(self, message: Any) -> None:
        # A status of 4xx, or no network, that a test asks for is said there too.
        is_asked_for = any(words in message.text for words in ASKED_FOR)
        if message.type == "error" and not is_asked_for:
            self.complaints.append(message.text)

    def watch(self, request: Any) -> None:
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.complaints.append(f"asked another host: {request.url}")

    def end(self) -> None:
        for page in self.context.pages:
            self.complaints += page.evaluate("window.refusals || []")
        self.context.close()
        assert not self.complaints


Visitor = Callable[..., Page]


@pytest.fixture
def page_of(chromium: Browser, live_server: LiveServer) -> Iterator[Visitor]:
    """Return a function that opens a browser, signed in as a person if one is given."""
    visits: list[Visit] = []

    def opened(
        person: Any = None,
        *,
        viewport: dict[str, int] | None = None,
        script: bool = True,
    ) -> Page:
        context = chromium.new_context(
            java_script_enabled=script,
            base_url=live_server.url,
            viewport=viewport or DESK,  # type: ignore[arg-type]
            locale="en-GB",
        )
        if person is not None:
            context.add_cookies([session_cookie(person, live_server.url)])
        visits.append(Visit(context, address=live_server.url))
        return visits[-1].page

    yield opened
    for visit in visits:
        visit.end()


def session_cookie(person: Any, address: str) -> Any:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": address}


@pytest.fixture
def page(page_of: Visitor) -> Page:
    """Return the page of a stranger at a desk."""
    return page_of()


@pytest.fixture
def phone_page(page_of: Visitor) -> Page:
    """Return the page of a stranger with a phone."""
    return page_of(viewport=PHONE)
