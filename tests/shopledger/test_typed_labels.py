"""What was typed is told under the label that the form showed: on every page that has a form, and in lines of forms."""

import re
from html.parser import HTMLParser

import pytest
from django.test import Client

from shopledger.errors import typed
from shopledger.errors.labels import labels_of
from tests.inventory.test_attachments import uploads  # noqa: F401 (a fixture)
from tests.inventory.test_office_pages import CANS, delivery, ready  # noqa: F401 (a fixture)
from tests.jobs.test_jobs import bay  # noqa: F401 (a fixture)
from tests.shopledger.test_every_page import addresses  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db
LINE = re.compile(r"^Line \d+, ")
OURS = {"headers": {"Origin": "http://testserver"}}
# Labels that say what was asked of the database: what the page says instead, which may be away from it.
SHORTER = {
    "Gross weight, g": "Gross weight, or volume left",
    "CAN-2: sent 340 g; they found, g": "CAN-2: they found",
}


class Labels(HTMLParser):
    """The fields of a page's own forms, each with the label that names it, and the terms of its lists."""

    def __init__(self, page):
        super().__init__()
        self.ids, self.words, self.terms = {}, {}, []
        self.own = self.at = self.term = None
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "form":
            self.own = said.get("method") == "post" and not said.get("action") and "hx-post" not in said
        elif tag == "label":
            self.at = said.get("for")
        elif tag == "dt":
            self.term = ""
        if tag in {"input", "select", "textarea"} and self.own and said.get("type") not in {"hidden", "file", "radio"}:
            one_of_several = said.get("type") == "checkbox" and "value" in said
            if said.get("type") != "password" and not one_of_several and "name" in said and "id" in said:
                self.ids[said["id"]] = said["name"]

    def handle_endtag(self, tag):
        if tag == "label":
            self.at = None
        elif tag == "dt":
            self.terms.append(" ".join(self.term.split()))
            self.term = None

    def handle_data(self, data):
        if self.at:
            self.words[self.at] = self.words.get(self.at, "") + data
        if self.term is not None:
            self.term += data

    @property
    def labels(self):
        """name -> label"""
        return {
            name: " ".join(self.words[at].split()).removesuffix(" (optional)")
            for at, name in self.ids.items()
            if at in self.words
        }


def test_every_form_s_fields_are_called_as_on_their_page(addresses, owner, owner_client):  # noqa: F811
    """A label may end in the unit that its person chose, which is not asked for where the database may be away."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    wrong, seen = {}, 0
    for name, address in addresses.items():
        answer = owner_client.get(address)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        labels = Labels(answer.content.decode()).labels
        page = client.post(address, dict.fromkeys(labels, "x"), **OURS).content.decode() if labels else ""
        told = Labels(page.partition("What you typed</summary>")[2]).terms if "Send it again" in page else []
        if told:
            seen += len(told)
            told = [LINE.sub("", term) for term in told]
            wanted = [SHORTER.get(label, label) for label in labels.values()]
            missing = [label for label in wanted if not any(label.startswith(term) for term in told)]
            if missing:
                wrong[name] = missing, told
    assert wrong == {} and seen > 300


def test_a_line_s_field_is_called_as_in_its_line(ready):  # noqa: F811
    client = Client(enforce_csrf_checks=True)
    client.cookies = ready.cookies
    page = client.post("/receiving/new/", delivery(CANS, CANS), **OURS).content.decode()
    for told in (
        "<dt>Supplier</dt><dd>Acme</dd>",
        "<dt>Line 1, Net each</dt><dd>340 g</dd>",
        "<dt>Line 2, Refrigerant or oil</dt><dd>R-134a</dd>",
    ):
        assert told in page


def test_of_several_forms_the_one_that_fits_says_the_label():
    counted = labels_of(["scale", "day", "note", "gross-CAN-0007"], "inventory.counting.views")
    assert counted["gross-CAN-0007"] == "CAN-0007"
    assert labels_of(["code", "gross"], "inventory.counting.views")["gross"] == "It shows"


def test_what_has_no_label_is_said_in_words():
    assert typed.words_of("gross-CAN-0007") == "gross CAN-0007"
    assert typed.words_of("line-3-no_such") == "line 4, no such"
