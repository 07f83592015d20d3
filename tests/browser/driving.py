"""Verbs for tests that drive a real page."""

import contextlib
import os
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.db import OperationalError
from django.test import Client
from pytest_django.live_server_helper import LiveServer
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from jobs.people.models import Person

PHONE = {"width": 390, "height": 844, "deviceScaleFactor": 2, "mobile": True}
LONG = int(os.environ.get("LONG", "120"))  # seconds: only what never comes takes them
DESK = {"width": 1280, "height": 800, "deviceScaleFactor": 1, "mobile": False}


def set_screen(driver: Chrome, screen: dict) -> None:
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)
    driver.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": screen["mobile"]})


def set_dark(driver: Chrome, dark: bool) -> None:
    feature = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [feature]})
    # Colours go over into others within a moment: on a busy machine what looks next would see them halfway. In what is
    # folded away they stand still, and never end.
    driver.execute_async_script(
        "const done = arguments[0]; const seen = (one) => one.effect?.target?.checkVisibility();"
        "requestAnimationFrame(() => requestAnimationFrame(() => Promise.allSettled("
        "document.getAnimations().filter(seen).map((one) => one.finished)).then(() => done())))"
    )


def set_offline(driver: Chrome, offline: bool) -> None:
    driver.set_network_conditions(offline=offline, latency=0, throughput=-1)


def sign_in(driver: Chrome, live_server: LiveServer, person: Person) -> None:
    """Signed in by the session's cookie: the sign-in page has its own test."""
    client = Client()
    client.force_login(person)
    driver.execute_cdp_cmd(
        "Network.setCookie",
        {
            "name": settings.SESSION_COOKIE_NAME,
            "value": client.cookies[settings.SESSION_COOKIE_NAME].value,
            "url": live_server.url,
            "httpOnly": True,
        },
    )


def in_phone(driver: Chrome, said: str):
    """What a piece of script answers that may call what the page's phone.js exports, as `phone`."""
    return driver.execute_async_script(
        f"""
        const done = arguments[0];
        const outbox = document.querySelector("script[src$='outbox.js']").src;
        import(outbox.replace("outbox.js", "phone.js")).then(async (phone) => done(await {said}));
        """
    )


def shot(driver: Chrome, name: str) -> None:
    """Pictures of the page as SHOTS_DIR/name-light.png and name-dark.png, where SHOTS_DIR is set."""
    folder = os.environ.get("SHOTS_DIR")
    if not folder:
        return
    Path(folder).mkdir(parents=True, exist_ok=True)
    for scheme in ("dark", "light"):
        set_dark(driver, scheme == "dark")
        driver.get_screenshot_as_file(str(Path(folder) / f"{name}-{scheme}.png"))


def _wait(driver: Chrome) -> WebDriverWait:
    """A page that is just being replaced answers with faults of many kinds: it is asked again."""
    return WebDriverWait(driver, LONG, poll_frequency=0.1, ignored_exceptions=(WebDriverException,))


def wait_for(driver: Chrome, css: str):
    """The first element that fits, once it is there."""
    return _wait(driver).until(lambda d: d.find_element(By.CSS_SELECTOR, css), f"{css} did not appear")


def wait_for_text(driver: Chrome, text: str) -> None:
    """Until the page shows the text."""
    shown = lambda d: text in d.find_element(By.TAG_NAME, "body").text  # noqa: E731
    _wait(driver).until(shown, f"{text!r} did not appear")


def wait_until(driver: Chrome, true: Callable[[], bool]) -> None:
    """Until something is so that the page does not show, e.g. that it is kept. A table that the server's thread is just
    writing to, in memory, is asked again."""

    def attempt(_: Chrome) -> bool:
        with contextlib.suppress(OperationalError):
            return true()
        return False

    _wait(driver).until(attempt, "it did not come true")


def act_on(driver: Chrome, css: str, act: Callable):
    """Bring an element into view and act on it; where the page replaces it meanwhile, on the new one."""

    def attempt(d: Chrome):
        element = d.find_element(By.CSS_SELECTOR, css)
        d.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
        act(element)
        return element

    return _wait(driver).until(attempt, f"{css} could not be used")


def opened(driver: Chrome, step: str, *folds: str) -> None:
    """Open a step of a job by its line, as a thumb does; and within it what is folded under lines that begin so."""
    within = f"//*[@id='{step}']"
    _unfold(driver, within)
    for fold in folds:
        within += f'//details[summary[starts-with(normalize-space(), "{fold}")]]'
        _unfold(driver, within)


def _unfold(driver: Chrome, xpath: str) -> None:
    def attempt(d: Chrome) -> bool:
        details = d.find_element(By.XPATH, xpath)
        if not details.get_property("open"):
            line = details.find_element(By.CSS_SELECTOR, ":scope > summary")
            d.execute_script("arguments[0].scrollIntoView({block: 'center'})", line)
            line.click()
        return details.get_property("open")

    _wait(driver).until(attempt, f"{xpath} did not open")


def settled(driver: Chrome) -> None:
    """Until nothing of a job's page is on its way to the server any more."""
    wait_for(driver, "body:not([data-sending])")


def overflow(driver: Chrome) -> int:
    """CSS pixels by which the page is wider than the screen; 0 where nothing must be scrolled sideways."""
    return driver.execute_script("return document.documentElement.scrollWidth - document.documentElement.clientWidth")


def small_targets(driver: Chrome, least: int = 44) -> list[str]:
    """What can be pressed but is smaller than so many CSS pixels either way. Links within a sentence are
    excepted (WCAG 2.2, success criterion 2.5.5, exception "inline")."""
    return driver.execute_script(
        """
        const small = [];
        for (const it of document.querySelectorAll("a, button, input, select, textarea, summary")) {
          const target = it.matches("input[type=checkbox], input[type=radio]") ? it.closest("label") || it : it;
          const box = target.getBoundingClientRect();
          if (!it.checkVisibility({visibilityProperty: true}) || box.width === 0 || it.type === "hidden") continue;
          if (it.matches("a") && it.parentElement.matches("p, dd, .errors li, .notice, .caution")
              && it.parentElement.textContent.trim() !== it.textContent.trim()) continue;
          if (it.matches(".skip, .visually-hidden") || it.closest(".errors")) continue;
          if (box.height < arguments[0] - 0.5 || box.width < arguments[0] - 0.5)
            small.push(`${it.outerHTML.slice(0, 90)} ${Math.round(box.width)}x${Math.round(box.height)}`);
        }
        return small;
        """,
        least,
    )


def console_errors(driver: Chrome) -> list[str]:
    """What the browser complained of since last asked: broken scripts, refused content, missing files.

    htmx's own lines are left out: it writes them also for a request that leaving the page gave up, and what
    really failed the browser reports itself.
    """
    found = [entry["message"] for entry in driver.get_log("browser") if entry["level"] == "SEVERE"]
    return [message for message in found if '"htmx:' not in message]
