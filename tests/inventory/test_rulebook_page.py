"""The rulebook as a page, and a shop's own figures, which are stricter or not there."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.reference.rule import System
from inventory.reference.rulebook import rulebook, rulebooks
from inventory.reference.stricter import VALUES, limit, objection, stricter
from inventory.reference.wording import TITLES, sections
from inventory.shop.models import Shop
from tests.kept import saved
from tests.reference.asking import leak_check

DAY = dt.date(2026, 6, 1)


@pytest.mark.parametrize("name", list(rulebooks()))
def test_every_rule_of_every_rulebook_is_said(name):
    book = rulebook(name)
    shown = dict(sections(book, DAY))
    assert sum(map(len, shown.values())) == sum(len(book.section(section, DAY)) for section in book.sections)
    assert set(shown) <= set(TITLES.values())
    for rules in shown.values():
        for one in rules:
            assert one.sentence or one.pairs, "a rule that says nothing"
            assert one.text and (one.read_on or one.confirm)


@pytest.mark.parametrize(
    ("name", "figure", "said"),
    [
        ("retention_years", "3", "write more than 3"),
        ("retention_years", "4", None),
        ("retention_years", "4.5", "whole number"),
        ("retention_years", "0", "over 0"),
        ("leak_rate_percent", "10", "write less than 10"),
        ("leak_rate_percent", "9.99", None),
        ("purity_least_percent", "98", "write more than 98"),
        ("purity_least_percent", "98.5", None),
        ("leak_check_months", "12", None),  # the federal rulebook names no regular check
    ],
)
def test_only_stricter_figures_are_taken(name, figure, said):
    found = objection(rulebook("us-federal"), name, Decimal(figure), DAY)
    assert (found is None) if said is None else said in found


def test_a_stricter_figure_tightens_what_is_laxer_and_nothing_else():
    us = rulebook("us-federal")
    book = stricter(us, {"leak_rate_percent": "15", "retention_years": "7"})
    rates = {rule.equipment: rule.over_percent for rule in book.section("leak_rate", DAY)}
    assert rates[("stationary/refrigeration",)] == 15 and rates[("transport/*",)] == 10
    assert book.retention("job", DAY).years == 7 and "own rule" in book.retention("job", DAY).citation
    assert us.retention("job", DAY).years == 3, "the rulebook itself stays"
    assert stricter(us, {}) is us and stricter(us, {"unknown": "1"}) is us


def test_where_the_rulebook_is_silent_the_shops_rule_stands_alone():
    book = stricter(rulebook("us-federal"), {"leak_check_months": "6"})
    assert leak_check(book, System("stationary", "R-134a", 1), None, DAY).months == 6


def test_a_check_with_detection_is_no_laxer_than_the_shops_own():
    book = stricter(rulebook("eu"), {"leak_check_months": "9"})
    found = leak_check(book, System("stationary", "R-134a", 1), Decimal(6), DAY)
    assert (found.months, found.months_with_detection) == (9, 9)


def test_the_hardest_figure_is_the_limit():
    assert limit(rulebook("us-federal"), "leak_rate_percent", DAY)[0] == 10
    assert limit(rulebook("eu"), "retention_years", DAY)[0] == 5


@pytest.mark.django_db
def test_the_page_shows_rules_their_texts_and_what_is_to_be_confirmed(shop, technician_client):
    saved(Shop.objects.get(), rulebook="us-federal")
    page = technician_client.get("/settings/rulebook/").content.decode()
    assert "40 CFR 82.34(a)(3)" in page and "to be confirmed with the authority" in page and "read on" in page
    assert "no legal advice" in page and "own figures" not in page
    before = technician_client.get("/settings/rulebook/?day=2025-12-31").content.decode()
    assert "84.106" in page and "84.106" not in before, "rules have their days"
    assert "Great Britain" in technician_client.get("/settings/rulebook/?name=gb").content.decode()
    for odd in ("?day=x", "?name=x", "?day=0000-00-00", "?day=9999-12-31"):
        assert technician_client.get("/settings/rulebook/" + odd).status_code == 200


@pytest.mark.django_db
def test_the_owner_sets_own_figures_and_findings_use_them(shop, owner_client, office_client):
    assert "own figures" in owner_client.get("/settings/rulebook/").content.decode()
    refused = owner_client.post("/settings/rulebook/", {"retention_years": "2"})
    assert refused.status_code == 422 and "write more than 5" in refused.content.decode()
    assert Shop.objects.get().own_figures == {}
    assert owner_client.post("/settings/rulebook/", {"retention_years": "10"}).status_code == 302
    assert Shop.current().rules.retention("job", DAY).years == 10
    assert office_client.post("/settings/rulebook/", {"retention_years": "20"}).status_code == 200
    assert Shop.objects.get().own_figures == {"retention_years": "10"}
    assert owner_client.post("/settings/rulebook/", dict.fromkeys(VALUES, "")).status_code == 302
    assert Shop.objects.get().own_figures == {}


@pytest.mark.django_db
def test_a_rulebook_that_binds_only_some_says_whom(shop, owner_client, technician_client):
    """Federal Halocarbon Regulations, 2022, SOR/2022-110, s. 2."""
    address = "/settings/rulebook/canada-federal/"
    page = technician_client.get(address).content.decode()
    assert "federal Crown" in page and "law of the province, which was not read" in page
    assert "section 10" in page and "section 26" in page, "what it asks of those whom it binds"
    assert "This shop does not keep it" in page
    assert technician_client.get("/settings/rulebook/generic/").status_code == 404
    assert address in technician_client.get("/settings/rulebook/").content.decode()
    settings = owner_client.get("/settings/")
    assert address in settings.content.decode() and "federal Crown" in settings.content.decode()
    sent = {name: value for name, value in settings.context["form"].initial.items() if value is not None}
    chosen = owner_client.post("/settings/", {**sent, "rulebook": "canada-federal"}, follow=True).content.decode()
    assert "law of the province" not in settings.content.decode()
    assert "settings are saved" in chosen and "law of the province" in chosen, "said where it is chosen"
    assert "This shop keeps it" in technician_client.get(address).content.decode()
    assert "federal Crown" in technician_client.get("/settings/rulebook/").content.decode()


@pytest.mark.django_db
def test_what_was_not_found_stands_on_the_page(shop, technician_client):
    page = technician_client.get("/settings/rulebook/?name=australia").content.decode()
    assert "How long records must be kept was not found" in page and "automotive code" in page
    assert "was not found" not in technician_client.get("/settings/rulebook/?name=generic").content.decode()
