"""A number typed into a real page is the number that arrives: a browser's own number field drops a comma unseen."""

from decimal import Decimal

import pytest

from inventory.containers.models import Container
from tests.browser import driving
from tests.browser.test_three_people import fill, looks_right, press
from tests.inventory.test_numbers import BOTH, NONE, TABLE

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_a_price_with_a_comma_is_the_price_that_is_kept(request, screen, live_server, office):
    browser = request.getfixturevalue(screen)
    driving.sign_in(browser, live_server, office)
    browser.get(f"{live_server.url}/receiving/new/")
    for name, typed in {"supplier": "Acme", "line-0-substance": "R-134a", "line-0-net": "340 g"}.items():
        fill(browser, f"[name={name}]", typed)
    fill(browser, "[name=line-0-count]", "2")
    fill(browser, "[name=line-0-location]", "Store")
    browser.execute_script("document.querySelector('[name=line-0-kind]').value = 'can'")
    fill(browser, "[name=line-0-price]", "9,80")
    assert browser.find_element("name", "line-0-price").get_property("value") == "9,80"
    press(browser, ".actions button.primary")
    driving.wait_for_text(browser, "voucher")
    assert list(Container.objects.values_list("price_minor", flat=True)) == [980, 980]


def test_a_price_that_can_be_two_is_asked_about_where_it_stands(phone, live_server, office):
    driving.sign_in(phone, live_server, office)
    phone.get(f"{live_server.url}/receiving/new/")
    fill(phone, "[name=supplier]", "Acme")
    fill(phone, "[name=line-0-net]", "340 g")
    fill(phone, "[name=line-0-price]", "1,250")
    press(phone, ".actions button.primary")
    driving.wait_for_text(phone, '"1,250" can be 1.25 or 1250')
    assert phone.find_element("name", "line-0-price").get_property("value") == "1,250"
    driving.console_errors(phone)  # the browser complains of the answer 422
    looks_right(phone, "numbers-refused-phone")
    assert not Container.objects.exists()


def test_the_phone_reads_numbers_as_the_server_does(phone, live_server, office):
    """It only says beforehand what the server will say: what can be two numbers is none there, either."""
    driving.sign_in(phone, live_server, office)
    phone.get(f"{live_server.url}/")
    texts = [text for text, *_ in TABLE]
    read = phone.execute_async_script(
        "const [texts, done] = arguments; const outbox = document.querySelector('script[src$=\"outbox.js\"]').src;"
        "import(outbox.replace('outbox.js', 'numbers.js')).then(({ readNumber }) => done(texts.map(readNumber)), done)",
        texts,
    )
    assert len(read) == len(TABLE)
    for (text, english, *_), said in zip(TABLE, read, strict=True):
        expected = None if english in {BOTH, NONE} else Decimal(english)
        assert (None if said is None else Decimal(said)) == expected, repr(text)
