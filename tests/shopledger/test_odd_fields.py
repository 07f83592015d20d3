"""Each field of each form filled in oddly, one or two at a time, while all else is right: no fault of the program,
nothing written by what is refused, and the refusal names the field.

The forms are those of `test_forms_once.py`, and what else the pages of the addresses without an argument hold.
"""

import copy
import html
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from django.test import Client
from django.urls import NoReverseMatch, URLPattern, get_resolver, reverse
from django.utils.html import strip_tags
from hypothesis import given
from hypothesis import strategies as st

from inventory.ledger.verify import verify
from jobs.drafts.models import Job
from jobs.people.models import Person
from jobs.units.models import Unit
from tests.forms import forms_of
from tests.shopledger.oddities import GONE, PER_FIELD, PROVEN_EVERY, VALUE, Tally, sent, state, tries
from tests.shopledger.tampering import undone
from tests.shopledger.test_forms_once import CASES, called, form_with_id, post, stocked  # noqa: F401

pytestmark = pytest.mark.django_db
LEFT_OUT = {"sign-out"}
HIDDEN = {  # a field that no page shows as one: the words of the sentence that is about it
    "key": ("this form has lost its number",),
    "codes": ("container",),
    "file": ("photo: take",),  # the button that opens the camera
    "proves": ("a reading that a job does not have",),
    "follows": ("which entry it came after",),
    "TOTAL_FORMS": ("did not arrive whole", "lines fit in one form", "at least one line"),
    "INITIAL_FORMS": ("did not arrive whole",),
    "MIN_NUM_FORMS": ("did not arrive whole",),
    "MAX_NUM_FORMS": ("did not arrive whole",),
}
BESIDE = {  # where it says what is wrong at the field that contradicts this one
    "range_least_mg": "found by:",
    "range_most_mg": "found by:",
    "gross": "tare, g:",
    "water_capacity": "tare, g:",
}
FILL = {"name": "Somebody", "make": "Quillon", "model": "Q", "serial": "8", "password": "wet pump 7 am", "code": "S2"}
ERRORS = re.compile(r'<div class="errors".*?</div>', re.DOTALL)
tally = Tally("fields")
LONG = pytest.param(True, marks=pytest.mark.long, id="long")
FEW = pytest.param(False, id="few")


@pytest.fixture(scope="module", autouse=True)
def told():
    yield
    tally.say()


def signed_in():
    client = Client()
    client.force_login(Person.objects.get(username="olive"))
    return client


def label_of(page, field):
    found = re.search(rf'<label[^>]*for="(?:id_|[a-z]+-){re.escape(field)}"[^>]*>(.*?)</label>', page, re.DOTALL)
    return " ".join(html.unescape(strip_tags(found[1])).split()).lower() if found else ""


def names(page, field, value):
    """Whether a page that refuses says of which field: by a link to it, its label, or what stands in it."""
    errors = " ".join(ERRORS.findall(page))
    said = " ".join(html.unescape(strip_tags(errors or page)).split()).lower()
    hidden = next((words for name, words in HIDDEN.items() if field == name or field.endswith(f"-{name}")), ())
    if any(words in said for words in hidden):
        return True
    label = label_of(page, field).partition(" (")[0]
    typed = str(value).strip().lower() if isinstance(value, str) else ""
    line = re.match(r"line-\d+-|", field)[0]  # one that is begun is asked for the rest of it
    ways = (
        re.search(rf'href="#(?:id_(?:\d+_)?|[a-z]+-){re.escape(line or field)}', errors) is not None,
        bool(label) and label in said,
        0 < len(typed) < 200 and typed in said,
        field in BESIDE and BESIDE[field] in said,
    )
    return any(ways)


@dataclass
class Filled:
    """A form as it is filled in rightly. stands: whether it would not be refused. unnamed: refusals that do not say of
    which field."""

    where: str
    client: Client
    address: str
    right: dict
    files: Callable[[], dict] = dict
    stands: bool = True
    unnamed: Counter = field(default_factory=Counter)


def odd_one(form, odd):
    """Send a form of which some fields are filled in oddly. What comes of it is undone."""
    where, client = form.where, form.client
    data = {**form.right, **form.files(), **{field: sent(value) for field, value in odd.items() if value != GONE}}
    for name in [name for name, value in odd.items() if value == GONE]:
        data.pop(name, None)
    cookies = copy.deepcopy(client.cookies)
    with undone():
        before = state()
        answer = post(client, form.address, data)
        assert answer.status_code < 500, (where, odd)
        after = state()
        if answer.status_code < 400:
            came = "recorded" if before != after else "answered"
            tally.came[came] += 1
            if came == "recorded" and tally.came[came] % PROVEN_EVERY == 0:
                assert verify().faults == [], (where, odd)
        else:
            tally.came["refused"] += 1
            assert before == after, ("refused, and something is left behind", where, odd)
            page = answer.content.decode()
            if form.stands and not any(names(page, field, value) for field, value in odd.items()):
                errors = " ".join(strip_tags(" ".join(ERRORS.findall(page)) or page).split())[:200]
                form.unnamed[where, tuple(odd), answer.status_code, errors] += 1
    client.cookies = cookies


def odd_fields(form, long):
    """Try the fields of one form."""
    fields = [*form.right, *form.files()]

    def tried(chosen):
        @given(st.lists(st.tuples(st.sampled_from(chosen), VALUE), min_size=1, max_size=1 + (len(chosen) > 3)))
        def odd(values):
            odd_one(form, dict(values))

        return odd

    if long:
        for name in fields:
            tries(PER_FIELD, long)(tried([name]))()
    tries(PER_FIELD if long else 4, long)(tried(fields))()
    if long:
        tally.say(form.where)
    assert not form.unnamed, form.unnamed


@pytest.mark.parametrize("long", [FEW, LONG])
@pytest.mark.parametrize("name", CASES)
def test_a_form_that_is_recorded_once(stocked, name, long):  # noqa: F811
    case, client = CASES[name], signed_in()
    page = case.page()
    of = Unit if case.act == "job-start" else Job
    address = reverse(case.act, args=[of.objects.get().pk]) if case.act else page
    address, filled = form_with_id(client.get(page).content.decode(), address)
    right = {**filled, **called(case.typed), **case.press}
    odd_fields(Filled(name, client, address, right, case.files), long)


def bare_addresses():
    """The addresses that need no argument, by name."""
    found, left = {}, [*get_resolver().url_patterns]
    while left:
        one = left.pop()
        if not isinstance(one, URLPattern):
            left += one.url_patterns
        elif one.name and one.name not in LEFT_OUT and not one.pattern.converters and "(" not in str(one.pattern):
            found[one.name] = one
    return sorted(found)


def would_stand(form):
    cookies = copy.deepcopy(form.client.cookies)
    with undone():
        answer = post(form.client, form.address, form.right)
    form.client.cookies = cookies
    if answer.status_code >= 400:
        print("REFUSED AS IT STANDS", form.where, answer.status_code)
    return answer.status_code < 400


@pytest.mark.parametrize("long", [FEW, LONG])
def test_another_form_of_a_page(stocked, long):  # noqa: F811
    client, seen = signed_in(), set()
    for name in bare_addresses():
        try:
            address = reverse(name)
        except NoReverseMatch:
            continue
        answer = client.get(address)
        if answer.status_code != 200 or not answer.get("Content-Type", "").startswith("text/html"):
            continue
        for action, fields in forms_of(answer.content.decode()):
            if "key" in fields or "sign-out" in action or (action or address, *fields) in seen:
                continue
            seen.add((action or address, *fields))
            if fields:
                right = {field: value or FILL.get(field, "") for field, value in fields.items()}
                form = Filled(f"{name} {action}", client, action or address, right)
                form.stands = would_stand(form)
                odd_fields(form, long)
    assert len(seen) > 5
