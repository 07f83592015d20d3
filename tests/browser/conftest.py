"""A headless Chromium for the tests in this folder; one browser serves them all, one after the other.

REQUIRE_BROWSER=1 makes a missing browser a failure. SHOTS_DIR=folder keeps the pictures that tests take.
"""

import contextlib
import os
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.handlers.base import BaseHandler
from django.http import HttpRequest, HttpResponse
from pytest_django.live_server_helper import LiveServer
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service

from tests.browser import driving

HERE = Path(__file__).parent
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-default-apps",
    "--hide-scrollbars",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker("browser")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """With a failure comes what stood on the screen: what was waited for may never come where another page is shown."""
    report = yield
    chrome = getattr(item, "funcargs", {}).get("chromium")
    if report.when == "call" and report.failed and chrome:
        with contextlib.suppress(WebDriverException):
            said = chrome.execute_script("return [document.title, document.body.innerText].join('\\n')")
            report.sections.append(("Page that was shown", f"{chrome.current_url}\n{said[:1500]}"))
    return report


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory, live_server: LiveServer) -> Iterator[Chrome]:
    # Named after the server, so that it lets go of its connections before the server stops.
    yield from _launched(tmp_path_factory)


def _launched(folders: pytest.TempPathFactory) -> Iterator[Chrome]:
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    driver = shutil.which("chromedriver")
    if not (browser and driver):
        reason = f"no {'chromedriver' if browser else 'Chromium'} on this machine"
        if os.environ.get("REQUIRE_BROWSER") == "1":
            pytest.fail(f"REQUIRE_BROWSER=1, but there is {reason}.")
        pytest.skip(reason)
    options = ChromeOptions()
    options.binary_location = browser
    for flag in (*FLAGS, f"--user-data-dir={folders.mktemp('chromium')}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    chrome = Chrome(options=options, service=Service(executable_path=driver))
    chrome.set_page_load_timeout(driving.LONG)
    chrome.set_script_timeout(driving.LONG)
    yield chrome
    chrome.quit()


class Answering:
    """How many requests the live server has. It answers one after the other: a database in memory is one connection
    that all its threads share, and lets none wait for another, as a file or a server does."""

    def __init__(self) -> None:
        self.now, self.lock, self.turn = 0, threading.Lock(), threading.Lock()
        self.answer = BaseHandler.get_response

    def __call__(self, handler: BaseHandler, request: HttpRequest) -> HttpResponse:
        self._count(1)
        try:
            with self.turn:
                return self.answer(handler, request)
        finally:
            self._count(-1)

    def _count(self, step: int) -> None:
        with self.lock:
            self.now += step


@pytest.fixture
def answering() -> Iterator[Answering]:
    counted = Answering()
    with pytest.MonkeyPatch.context() as own:  # a test that undoes its own patches leaves this one
        own.setattr(BaseHandler, "get_response", lambda handler, request: counted(handler, request))
        yield counted


@pytest.fixture
def driver(chromium: Chrome, live_server: LiveServer, answering: Answering) -> Iterator[Chrome]:
    """The browser as if just bought: no cookies, nothing stored, online, daylight."""
    chromium.execute_cdp_cmd("Network.clearBrowserCookies", {})
    chromium.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": live_server.url, "storageTypes": "all"})
    driving.set_offline(chromium, False)
    driving.set_dark(chromium, False)
    driving.console_errors(chromium)
    yield chromium
    driving.set_offline(chromium, False)
    chromium.get("about:blank")  # nothing of this page may ask the server while its tables are emptied
    driving.wait_until(chromium, lambda: answering.now == 0)  # nor be answered


@pytest.fixture
def phone(driver: Chrome) -> Chrome:
    """390 x 844, a phone in the bay."""
    driving.set_screen(driver, driving.PHONE)
    return driver


@pytest.fixture
def desk(driver: Chrome) -> Chrome:
    """1280 x 800, the office's computer."""
    driving.set_screen(driver, driving.DESK)
    return driver


@pytest.fixture
def second(tmp_path_factory: pytest.TempPathFactory, driver: Chrome, answering: Answering) -> Iterator[Chrome]:
    """Another browser beside the first, of somebody else."""
    for chrome in _launched(tmp_path_factory):
        yield chrome
        chrome.get("about:blank")
        driving.wait_until(chrome, lambda: answering.now == 0)
