"""The tags that templates have for what they repeat."""

import datetime as dt
import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from django import forms
from django.template import Context, Template
from django.urls import NoReverseMatch

from inventory.ledger.models import Substance
from inventory.shop.clock import today
from inventory.verdicts.explaining import explained
from inventory.verdicts.verdict import Figure, Verdict
from shopledger.reporting.report import Column
from shopledger.templatetags.shop import folded
from tests.verdicts import BANNED

PERSON = SimpleNamespace(mass_unit="g", volume_unit="mL")


def drawn(text: str, **said: object) -> str:
    return Template(text).render(Context({"user": PERSON, **said}))


@pytest.mark.parametrize(
    ("of", "said"),
    [
        (Substance(code="R-134a"), "250 g"),
        (Substance(code="PAG 46", is_oil=True), "250 mL"),
        (False, "250 g"),
        (True, "250 mL"),
    ],
)
def test_a_quantity_is_a_mass_of_gas_and_a_volume_of_oil(of, said):
    assert drawn("{% quantity value of %}", value=250_000, of=of) == f'<span class="q">{said}</span>'


def test_a_fact_has_its_label_and_is_left_out_where_it_says_nothing():
    text = "{% fact label %} {{ said }} {% endfact %}"
    assert drawn(text, label="A & B", said="<x>") == "<div><dt>A &amp; B</dt><dd>&lt;x&gt;</dd></div>"
    assert drawn(text, label="Note", said="") == ""


def test_what_is_listed_says_something():
    assert drawn("{% listed a b c d %}", a="<can>", b="", c=None, d=0) == "&lt;can&gt;, 0"


def test_a_table_says_each_heading_once_and_every_cell_of_the_column_has_it():
    text = (
        '{% table "Day" "Held, & left:number" "" labelled="held" %}{% for day, held in rows %}<tr><td>{{ day }}</td>'
        '<td>{{ held }}</td><td class="own">x</td></tr>{% empty %}<tr><td colspan="3">None.</td></tr>{% endfor %}'
        "{% endtable %}"
    )
    head = (
        '<div class="table-box" tabindex="0" role="region" aria-labelledby="held"><table class="table"><thead><tr>'
        '<th>Day</th><th class="number">Held, &amp; left</th><th></th></tr></thead><tbody>'
    )
    assert drawn(text, rows=[("Monday", "<td>")]) == (
        head + '<tr><td data-label="Day">Monday</td><td class="number" data-label="Held, &amp; left">&lt;td&gt;</td>'
        '<td class="own">x</td></tr></tbody></table></div>'
    )
    assert drawn(text, rows=[]) == head + '<tr><td colspan="3">None.</td></tr></tbody></table></div>'
    assert 'aria-label="Vouchers"' in drawn('{% table "Day" label="Vouchers" %}{% endtable %}')


def test_a_table_with_more_cells_than_headings_is_a_mistake():
    with pytest.raises(IndexError):
        drawn('{% table "Day" label="x" %}<tr><td>1</td><td>2</td></tr>{% endtable %}')


def test_ways_lead_to_pages_by_name_to_addresses_and_to_this_page():
    assert drawn('{% crumb "Stock" "stock" %}') == '<p class="crumb"><a href="/stock/">Stock</a></p>'
    assert drawn('{% button "Move" "move" codes=code %}', code="A&B 1") == (
        '<a class="button" href="/stock/move/?codes=A%26B+1">Move</a>'
    )
    assert drawn('{% button label back look="quiet" %}', label="<Back>", back="/jobs/3/?x=1&y=2") == (
        '<a class="button quiet" href="/jobs/3/?x=1&amp;y=2">&lt;Back&gt;</a>'
    )
    assert drawn('{% button "CSV" "" format="csv" %}') == '<a class="button" href="?format=csv">CSV</a>'
    with pytest.raises(NoReverseMatch):
        drawn('{% button "Move" "no-such-page" %}')


def test_a_form_of_the_job_page_says_where_it_goes_and_that_the_phone_keeps_it():
    assert drawn('{% in_place "job-line" 3 %}') == 'method="post" action="/jobs/3/entry/" data-own'
    assert drawn('{% in_place "job-step" 3 "oil" %}') == 'method="post" action="/jobs/3/step/oil/" data-own'


def test_what_was_refused_is_said_and_nothing_else_is():
    assert drawn("{% alert said %}", said="<no>").endswith("<p>&lt;no&gt;</p></div>")
    assert drawn("{% alert said %}", said="") == ""


def test_what_a_visit_moved():
    visit = SimpleNamespace(charged_mg=500_000, recovered_mg=0, oil_added_ul=10_000)
    assert drawn("{% moved visit %}", visit=visit) == (
        ', charged <span class="q">500 g</span>, <span class="q">10 mL</span> of oil'
    )
    assert drawn("{% moved visit oil=False %}", visit=visit) == ', charged <span class="q">500 g</span>'
    assert drawn("{% moved visit %}", visit=SimpleNamespace(charged_mg=0, recovered_mg=None, oil_added_ul=0)) == ""


@pytest.mark.parametrize(
    ("outcome", "look"),
    [("agrees", "good"), ("tare taken", "good"), ("weighing difference", "idle"), ("unexplained loss", "bad")],
)
def test_a_badge_shows_what_a_weighing_found(outcome, look):
    assert drawn("{{ outcome|look }}", outcome=outcome) == look


def test_a_cell_of_a_report_leads_to_what_is_behind_it():
    cell = {"value": 250_000, "quantity": True, "oil": True, "day": None, "link": "/x/?a=1&b=2"}
    assert drawn("{% figure cell %}", cell=cell) == '<a href="/x/?a=1&amp;b=2"><span class="q">250 mL</span></a>'
    words = {"value": "<can>", "quantity": False, "oil": False, "day": None, "link": ""}
    assert drawn("{% figure cell %}", cell=words) == "&lt;can&gt;"
    assert drawn("{% figure cell %}", cell=words | {"value": None}) == "–"
    tonnes = words | {"value": "1234.500000", "column": Column("charged", "Charged, t CO2e", "decimal")}
    assert drawn("{% figure cell %}", cell=tonnes) == "1\u202f234.500000"
    assert drawn("{% figure cell %}", cell=words | {"value": "P-1234", "column": Column("x", "X")}) == "P-1234"


def test_filters_of_a_list_are_one_row_and_the_others_fold():
    class Many(forms.Form):
        a, b, c, d, e, f = (forms.CharField(required=False) for _ in range(6))

    fold = folded(Many({"e": "x"}))
    assert [field.name for field in fold["row"]] == ["a", "b", "c", "d"]
    assert [field.name for field in fold["rest"]] == ["e", "f"] and fold["set"] == 1

    class Few(forms.Form):
        a, b, c, d, e = (forms.CharField(required=False) for _ in range(5))

    assert len(folded(Few())["row"]) == 5 and folded(Few())["rest"] == [] and folded(Few())["set"] == 0


def test_a_verdict_says_its_days_as_pages_do_and_is_kept_as_it_was(shop):
    rule = replace(BANNED.rules[0], text=replace(BANNED.rules[0].text, read_on=dt.date(2026, 2, 1)))
    found = Verdict(
        answer="due",
        said="It is tested again by 2028-03-02, not as paper 2028-03-02-7 says.",
        rules=(rule,),
        figures=(Figure("last checked", "2023-03-02"),),
        changes=("From 2029-02-31 on nothing.",),
        by=dt.date(2028, 3, 2),
    )
    shown = drawn("{% verdict found %}", found=found)
    assert "It is tested again by 2 Mar 2028, not as paper 2028-03-02-7 says." in shown
    assert "2 Mar 2023" in shown and "1 Feb 2026" in shown
    assert "From 2029-02-31 on nothing." in shown, "no day of the calendar"
    assert explained(found).kept["said"] == found.said, "what is kept is what was said"


@pytest.mark.parametrize(
    ("days", "word"), [(-1, "due"), (0, "due"), (92, "due"), (93, "not yet due"), (730, "not yet due")]
)
def test_what_falls_due_in_years_is_not_called_due(shop, days, word):
    found = Verdict(answer="due", said="It is tested again.", by=today() + dt.timedelta(days=days))
    assert re.search(r'<span class="badge (\w+)">([^<]*)<', drawn("{% verdict found %}", found=found)).groups() == (
        "warn" if word == "due" else "idle",
        word,
    )
