"""What the rules of containers refuse, and what they leave behind when they do."""

from dataclasses import replace

import pytest

from inventory.containers.holdings import Holdings, Weighed
from inventory.containers.states import ContainerState, ScaleSeen
from inventory.ledger.accounts import AccountClass, Spot
from inventory.text.refusal import Refused

SCALE = ScaleSeen("Bench", 1_000)
G = 1_000


@pytest.fixture
def book():
    return Holdings(
        {
            "EMPTY": ContainerState("EMPTY", "recovery", tare=10_000 * G),
            "FULL": ContainerState("FULL", "recovery", "R-134a", tare=10_000 * G, balance=500 * G),
            "OIL-1": ContainerState("OIL-1", "oil", "PAG 46", True, balance=200_000),
            "OIL-2": ContainerState("OIL-2", "oil", "PAG 46", True, balance=100_000),
            "OIL-3": ContainerState("OIL-3", "oil", "POE 68", True, balance=100_000),
        }
    )


def refused(book, field, said, act):
    before = {code: replace(held) for code, held in book.containers.items()}
    book.begin()
    with pytest.raises(Refused, match=said) as caught:
        act()
    book.back()
    assert caught.value.field == field
    assert book.containers == before
    assert book.postings.transfers == [] and book.ops == []


def test_oil_goes_into_no_refrigerant_container(book):
    refused(book, "residue", "oil cannot go into it", lambda: book.retire("OIL-1", "EMPTY"))
    refused(book, "from", "holds oil", lambda: book.decant("OIL-1", "EMPTY", Weighed(quantity=1_000)))
    oil = Spot("PAG 46", AccountClass.UNIT, "U")
    refused(book, "container", "not for PAG 46", lambda: book.fill("FULL", Weighed(quantity=1_000), oil))


def test_refrigerant_goes_into_no_oil_bottle(book):
    refused(book, "residue", "is for oil", lambda: book.retire("FULL", "OIL-1"))
    refused(book, "to", "is for oil", lambda: book.decant("FULL", "OIL-1", Weighed(quantity=1_000)))


def test_what_is_left_of_an_oil_goes_into_a_bottle_of_the_same(book):
    refused(book, "residue", "POE 68", lambda: book.retire("OIL-1", "OIL-3"))
    assert book.retire("OIL-1", "OIL-2") == 200_000
    assert book.containers["OIL-2"].balance == 300_000


def test_a_container_of_which_nobody_knows_what_is_in_it_gets_no_content_by_weighing(book):
    refused(book, "container", "nothing says what is in it", lambda: book.count("EMPTY", 10_500 * G, SCALE))
    pour = Weighed(10_500 * G, 10_400 * G, scale=SCALE)
    refused(book, "container", "nothing says what is in it", lambda: book.decant("EMPTY", "FULL", pour))
    reading = book.count("EMPTY", 10_001 * G, SCALE)
    assert (reading.difference, reading.outcome, book.postings.transfers) == (0, "agrees", [])


def test_nothing_less_than_nothing_leaves(book):
    refused(book, "quantity", "less than nothing", lambda: book.ship("FULL", "reclaim", "Reclaimer", -5))
