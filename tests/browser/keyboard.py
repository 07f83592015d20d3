"""A keyboard that counts: each character, each key and each click is one; a chord is one for each key that is held."""

from selenium.webdriver import ActionChains, Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys


class Keyboard:
    def __init__(self, driver: Chrome):
        self.driver, self.count = driver, 0

    def type(self, text: str) -> None:
        """What is typed goes to whatever has the focus."""
        ActionChains(self.driver).send_keys(text).perform()
        self.count += len(text)

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            ActionChains(self.driver).send_keys(key).perform()
        self.count += times

    def enter(self) -> None:
        self.press(Keys.ENTER)

    def post(self) -> None:
        """Ctrl+Enter."""
        ActionChains(self.driver).key_down(Keys.CONTROL).send_keys(Keys.ENTER).key_up(Keys.CONTROL).perform()
        self.count += 2

    def click(self, css: str) -> None:
        element = self.driver.find_element(By.CSS_SELECTOR, css)
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()
        self.count += 1

    @property
    def at(self) -> str:
        """The name of the field that has the focus."""
        return self.driver.execute_script("return document.activeElement.name || document.activeElement.id")
