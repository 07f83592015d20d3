"""A keyboard and a mouse that count: each key and each click is one."""

from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By

from tests.browser import driving


class Counted:
    def __init__(self, driver: Chrome):
        self.driver, self.keys, self.clicks = driver, 0, 0

    @property
    def total(self) -> int:
        return self.keys + self.clicks

    def type(self, *keys: str) -> None:
        """Keys to whatever has the focus; each character and each named key counts."""
        for key in "".join(keys):
            ActionChains(self.driver).send_keys(key).perform()
            self.keys += 1

    def click(self, css: str) -> None:
        driving.act_on(self.driver, css, lambda it: it.click())
        self.clicks += 1

    def choose_file(self, css: str, path: str) -> None:
        """Opening the browser's dialogue and taking the file in it: two."""
        self.driver.find_element(By.CSS_SELECTOR, css).send_keys(path)
        self.clicks += 2

    def focused(self) -> str:
        """The name of the field, else the words, of what has the focus."""
        return self.driver.execute_script(
            "const it = document.activeElement; return it.name || it.textContent.trim().slice(0, 60)"
        )

    def until_focused(self, wanted: str) -> None:
        """Until the page that is coming has its focus there."""

        def there() -> bool:
            try:
                return self.focused() == wanted
            except WebDriverException:
                return False

        driving.wait_until(self.driver, there)
