"""How pages are laid out at a desk: nothing cut, nothing ragged, nothing empty beside what is full."""

import pytest
from django.urls import reverse

from inventory.ledger.actions import writing
from inventory.shop.models import Shop
from tests.browser import driving
from tests.browser.test_figures import stocked

CUT = """
const name = document.querySelector('.brand span');
return [name.scrollWidth - name.clientWidth, name.scrollHeight - name.clientHeight];
"""
TOPS = "return [...document.querySelectorAll('[name=how]')].map((one) => Math.round(one.getBoundingClientRect().top));"
EDGES = """
const box = (one) => one.getBoundingClientRect();
return [Math.max(...[...document.querySelectorAll('.panels > section')].map((one) => box(one).right)),
  box(document.querySelector('.panels')).right];
"""


@pytest.mark.parametrize("role", ["office", "owner"])
def test_a_long_name_of_a_shop_stands_whole_beside_the_navigation(desk, live_server, shop, request, role):
    person = request.getfixturevalue(role)
    with writing():
        Shop.objects.update_or_create(id=1, defaults={"name": "Larkspur Climate Garage (invented)"})
    driving.sign_in(desk, live_server, person)
    desk.get(live_server.url + reverse("home"))
    driving.wait_for_text(desk, "Open jobs")
    assert desk.execute_script(CUT) == [0, 0]


def test_home_of_the_office_has_what_is_to_be_done_beside_the_picture(desk, live_server, office, shop):
    stocked()
    driving.sign_in(desk, live_server, office)
    desk.get(live_server.url + reverse("home"))
    driving.wait_for_text(desk, "The last months")
    right, whole = desk.execute_script(EDGES)
    assert right == whole, "its right edge is the page's"


def test_how_much_got_out_is_chosen_in_one_row(desk, live_server, office, shop):
    stocked()
    driving.sign_in(desk, live_server, office)
    desk.get(f"{live_server.url}{reverse('release')}?container=CYL")
    tops = desk.execute_script(TOPS)
    assert len(tops) == 3 and len(set(tops)) == 1
