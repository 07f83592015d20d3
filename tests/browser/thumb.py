"""A thumb on a phone: it taps what it sees, types on the phone's keys, and counts what that costs.

A tap is a tap on the page or on the phone's key that goes on; a character is a key of the phone. A load is a new page,
or what is wanted next not being there when the thumb comes to it: then somebody waits. The thumb itself never waits,
and the network is slow while it works.
"""

from dataclasses import dataclass, field

from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from tests.browser import driving

LATENCY_MS = 400  # each way of a workshop's mobile network: common practice, no source
MARK = "thumb"


@dataclass
class Thumb:
    """taps, characters, loads: as above. tallest: of the page, CSS pixels; waited: what it had to wait for."""

    driver: Chrome
    taps: int = 0
    characters: int = 0
    loads: int = 0
    tallest: int = 0
    waited: list[str] = field(default_factory=list)

    def starts(self) -> None:
        """The page is open, and the network slow from now on."""
        self.driver.set_network_conditions(offline=False, latency=LATENCY_MS, throughput=-1)
        self._mark()
        self._look()

    def ends(self) -> None:
        driving.set_offline(self.driver, False)

    def tap(self, css: str) -> None:
        """Tap what is in sight."""
        try:
            self._there(css).click()
        except WebDriverException:  # an answer just took its place: the thumb meets what stands there now
            self._there(css).click()
        self.taps += 1
        self._look()

    def types(self, text: str, enter: bool = True) -> None:
        """Type into the field that is ready for it, without looking for it; then the key that goes on."""
        ready = self.driver.switch_to.active_element
        if ready.tag_name not in {"input", "textarea"}:
            driving.shot(self.driver, "thumb-no-field")
            raise AssertionError(f"no field is ready for {text!r}: {ready.tag_name} has the focus")
        ready.send_keys(text)
        self.characters += len(text)
        if enter:
            ready.send_keys(Keys.ENTER)
            self.taps += 1
        self._look()

    def sees(self, css: str, text: str) -> None:
        """That something is on top now, with no answer from the server."""
        found = self._there(css)
        if text not in found.text:
            self.waited.append(f"{text} in {css}")
            self.loads += 1
            driving.wait_until(self.driver, lambda: text in self.driver.find_element(By.CSS_SELECTOR, css).text)

    def _there(self, css: str) -> WebElement:
        if not self._marked():
            self.loads += 1
            self._mark()
        found = [one for one in self.driver.find_elements(By.CSS_SELECTOR, css) if one.is_displayed()]
        if found:
            return found[0]
        self.waited.append(css)
        self.loads += 1
        driving.wait_for(self.driver, css)
        driving.shot(self.driver, "thumb-waits")
        driving.wait_until(
            self.driver, lambda: any(one.is_displayed() for one in self.driver.find_elements(By.CSS_SELECTOR, css))
        )
        return next(one for one in self.driver.find_elements(By.CSS_SELECTOR, css) if one.is_displayed())

    def _mark(self) -> None:
        self.driver.execute_script(f"window.{MARK} = true")

    def _marked(self) -> bool:
        return self.driver.execute_script(f"return Boolean(window.{MARK})")

    def _look(self) -> None:
        self.tallest = max(self.tallest, self.driver.execute_script("return document.documentElement.scrollHeight"))

    @property
    def counted(self) -> str:
        return f"{self.taps} taps, {self.characters} characters, {self.loads} loads, {self.tallest} px"
