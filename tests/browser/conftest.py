"""
A real Chromium on the real service, and the promise that no page complains.

``page`` fails its test if the browser reported an error, a refusal by the content
security policy, or a request to another host.  ``page_of(person)`` opens the page
of somebody who has signed in, ``page_of(person, viewport=PHONE, touch=True)`` on a
phone.

``FEELERBOOK_SLOW=4`` makes pages four times slower than the machine, behind a line
that takes a fifth of a second: what a test does before a page is ready fails then,
which otherwise fails one run in thirty.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import (
    Browser,
    BrowserContext,
    CDPSession,
    Page,
    expect,
    sync_playwright,
)
from pytest_django.live_server_helper import LiveServer

# The shell is the same browser without windows: half the work a test.
NAMES = (
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome",
    "chrome",
)
ASKED_FOR = (
    "status of 4",
    # What a test answers in the server's place; a fault of ours is a 500.
    "status of 599",
    "status of 502",
    "status of 503",
    "status of 504",
    "status of 507",
    "net::ERR_INTERNET_DISCONNECTED",
    # A line that a test cuts.
    "net::ERR_CONNECTION_RESET",
    "net::ERR_CONTENT_LENGTH_MISMATCH",
    # What htmx says of it; an answer that is an error is an htmx:responseError.
    "htmx:sendError",
    "htmx:afterRequest",
    # A question still on its way when somebody goes on to another page.
    "htmx:sendAbort",
)
DESK = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}

SLOWNESS = int(os.environ.get("FEELERBOOK_SLOW", "1"))
LINE_MS = 200

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
    expect.set_options(timeout=20_000)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox"]
        )
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


class SlowLine:
    """
    A machine and a line slower than this one, for every page of a context.

    A session of our own overrules what ``set_offline`` says, so it says both.
    """

    def __init__(self, context: BrowserContext) -> None:
        self.sessions: list[CDPSession] = []
        self.set_offline = context.set_offline
        context.set_offline = self.offline  # type: ignore[method-assign]
        context.on("page", self.add)

    def add(self, page: Page) -> None:
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWNESS})
        self.sessions.append(session)
        page.on("close", lambda _page: self.sessions.remove(session))
        self.say(is_offline=False)

    def offline(self, offline: bool) -> None:  # noqa: FBT001
        self.say(is_offline=offline)
        self.set_offline(offline)

    def say(self, *, is_offline: bool) -> None:
        line = {"latency": LINE_MS, "downloadThroughput": -1, "uploadThroughput": -1}
        for session in self.sessions:
            session.send(
                "Network.emulateNetworkConditions", {"offline": is_offline, **line}
            )


class Visit:
    """One browser of one person, and what it complained of."""

    def __init__(self, context: BrowserContext, *, address: str) -> None:
        self.complaints: list[str] = []
        self.address = address
        context.add_init_script(KEEP_REFUSALS)
        context.on("console", self.hear)
        context.on("request", self.watch)
        # A wait ends when what it waits for is there; the rest is for a busy machine.
        context.set_default_timeout(30_000)
        self.context = context
        if SLOWNESS > 1:
            SlowLine(context)
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
    """
    Return a function that opens a browser, signed in as a person if one is given.

    ``address``: of another server than the one that this process runs.
    """
    visits: list[Visit] = []

    def opened(
        person: Any = None,
        *,
        viewport: dict[str, int] | None = None,
        script: bool = True,
        touch: bool = False,
        address: str = "",
        keeps_shell: bool = False,
    ) -> Page:
        of = address or live_server.url
        context = chromium.new_context(
            java_script_enabled=script,
            has_touch=touch,
            base_url=of,
            viewport=viewport or DESK,  # type: ignore[arg-type]
            locale="en-GB",
            # What a worker fetches, a test cannot answer in the server's place.
            service_workers="allow" if keeps_shell else "block",
        )
        if person is not None:
            context.add_cookies([session_cookie(person, of)])
        visits.append(Visit(context, address=of))
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
