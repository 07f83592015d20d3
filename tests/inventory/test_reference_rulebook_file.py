"""Slips in a rulebook file are named, with what would be right."""

from decimal import Decimal
from functools import partial

import pytest

from inventory.reference.rule import System, selects_equipment
from inventory.reference.rulebook import RulebookError, UnknownRulebook, parse_rulebook, rulebook
from tests.reference.asking import leak_check

HEAD = """
name = "x"
title = "X"
area = "nowhere"
edition = 2026-01-31
deference = "Local rules first."
[texts.act]
title = "An act"
confidence = "seen"
read_on = 2026-01-30
[texts.hearsay]
title = "Hearsay"
confidence = "memory"
[[gwp]]
basis = "ar4"
text = "act"
"""

WHOLE = HEAD + '[[retention]]\nrecords = ["job"]\nyears = 3\ntext = "act"\n'


def test_the_whole_file_is_right() -> None:
    assert parse_rulebook(WHOLE).retention("job", parse_rulebook(WHOLE).edition).citation == "An act"


@pytest.mark.parametrize(
    ("good", "bad", "said"),
    [
        ("years = 3", "years = 3.0", r"retention 1: years: must be a whole number, not Decimal\('3.0'\)"),
        ("years = 3", "years = true", "retention 1: years: must be a whole number"),
        ("years = 3", 'years = "3"', "retention 1: years: must be a whole number, not '3'"),
        ("years = 3", "", "retention 1: years: is missing"),
        (
            "years = 3",
            "years = 3\nyeers = 3",
            "retention 1: yeers: no such key here: write citation, .*years",
        ),
        ('["job"]', '["jobs"]', "retention 1: records: does not know 'jobs'"),
        ('["job"]', "[]", "retention 1: records: must be a list of at least one text"),
        ('["job"]', '"job"', "retention 1: records: must be a list of at least one text"),
        (
            '["job"]\nyears = 3\ntext = "act"',
            '["job"]\nyears = 3\ntext = "ACT"',
            "retention 1: text: does not know 'ACT'",
        ),
        ("[[retention]]", "[[retentions]]", r"retentions: no such list of rules: write \[\[retention\]\]"),
        ("[[retention]]", "[retention]", "retention: no such list of rules"),
        ('basis = "ar4"', 'basis = "ar7"', "gwp 1: basis: does not know 'ar7'"),
        ('[[gwp]]\nbasis = "ar4"\ntext = "act"', "", "as a whole: gwp: a rulebook names the GWP basis"),
        ("read_on = 2026-01-30", "", "texts.act: read_on: is missing"),
        ("read_on = 2026-01-30", 'read_on = "2026-01-30"', "texts.act: must be a day"),
        ('title = "An act"', 'titel = "An act"', "texts.act: titel: no such key here"),
        ('confidence = "seen"', 'confidence = "sure"', "texts.act: a text has a title and a confidence"),
        ("edition = 2026-01-31", "", "head: must be a day, not None"),
        ('area = "nowhere"', 'area = " "', "head: must not be blank"),
        (
            "years = 3",
            "years = 3\nfrom_day = 2026-02-01\nuntil_day = 2026-01-31",
            "until_day: lies before from_day",
        ),
        ("years = 3", "years = ", "x.toml: Invalid value"),
    ],
)
def test_a_slip_is_named(good: str, bad: str, said: str) -> None:
    assert WHOLE.count(good) == 1 or good == '["job"]'
    with pytest.raises(RulebookError, match=said):
        parse_rulebook(WHOLE.replace(good, bad), "x.toml")


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (
            '[[caution]]\nkey = "a"\nsentence = "A."\nplaces = ["garage"]\ntext = "act"',
            "caution 1: places: does not know 'garage': write job",
        ),
        (
            '[[caution]]\nkey = "a"\nsentence = "A."\nplaces = ["job"]\nsubstances = ["r134a"]\ntext = "act"',
            "caution 1: substances: does not know 'r134a'",
        ),
        (
            '[[duty]]\npage = "unit"\nsentence = "A."\nsubstances = ["contains:XFC"]\ntext = "act"',
            "duty 1: substances: does not know 'contains:XFC'",
        ),
        (
            '[[single_use]]\nkinds = ["bottle"]\ntext = "act"',
            "single_use 1: kinds: does not know 'bottle': write can, disposable",
        ),
        (
            '[[single_use]]\nkinds = ["can"]\nacts = ["fill"]\nenforcement = "forbid"\ntext = "act"',
            "single_use 1: enforcement: does not know 'forbid': write refuse, warn",
        ),
        (
            '[[grant]]\nschemes = ["609"]\nwork = ["charge"]\ntext = "act"',
            "as a whole: grant: there is no scheme '609'",
        ),
        (
            '[[grant]]\nschemes = ["*"]\nwork = ["weld"]\ntext = "act"',
            "grant 1: work: does not know 'weld': write recover, charge",
        ),
        (
            '[[grant]]\nschemes = ["*"]\nwork = ["charge"]\nequipment = ["car"]\ntext = "act"',
            "grant 1: equipment: does not know 'car'",
        ),
        (
            '[[grant]]\nschemes = ["*"]\nwork = ["charge"]\ncharge_below = "3"\ntext = "act"',
            'grant 1: charge_below: "3" is no mass: write a number, a space and mg, g, kg or lb',
        ),
        (
            '[[grant]]\nschemes = ["*"]\nwork = ["charge"]\ncharge_below = "-3 kg"\ntext = "act"',
            "grant 1: charge_below: .* must be above zero",
        ),
        (
            '[[grant]]\nschemes = ["*"]\nwork = ["charge"]\ncharge_below = "x kg"\ntext = "act"',
            "grant 1: charge_below: ",
        ),
        ('[[safe_fill]]\nmethod = "liquid-full"\ntext = "act"', "safe_fill 1: at_celsius: is missing"),
        (
            '[[safe_fill]]\nmethod = "share-of-liquid"\nat_celsius = 25\nshare = 80\ntext = "act"',
            "safe_fill 1: share: write a fraction",
        ),
        (
            '[[single_use]]\nkinds = ["can"]\nacts = ["fill"]\nconfidence = "seen"\ntext = "hearsay"',
            "single_use 1: confidence: the text 'hearsay' was not read: write memory",
        ),
        (
            '[[single_use]]\nkinds = ["can"]\nacts = ["fill"]\nconfidence = "certain"\ntext = "act"',
            "single_use 1: confidence: write seen, reading, secondary, memory",
        ),
        ("single_use = [1]", "single_use: no such list of rules"),
    ],
)
def test_a_wrong_rule_is_named(rule: str, said: str) -> None:
    head = HEAD if rule.startswith("[[") else ""
    content = f"{head}{rule}\n" if head else HEAD.replace("[texts.act]", f"{rule}\n[texts.act]")
    with pytest.raises(RulebookError, match=said):
        parse_rulebook(content)


def test_where_several_rules_hold_the_strictest_counts() -> None:
    content = HEAD
    for years, months, percent in ((3, 6, 20), (5, 3, 10), (2, 12, 30)):
        content += (
            f'[[retention]]\nrecords = ["*"]\nyears = {years}\ntext = "act"\n'
            f'[[leak_check]]\nmonths = {months}\ntext = "act"\n'
            f'[[leak_rate]]\nover_percent = {percent}\ntext = "act"\n'
        )
    book = parse_rulebook(content)
    day = book.edition
    assert book.retention("job", day).years == 5
    assert [one.rule.over_percent for one in book.leak_limits(System("other", "R-134a", 1), day)] == [10]
    assert leak_check(book, System("other", "R-134a", 1), None, day).months == 3


def test_a_band_of_charges_begins_at_its_lower_end_and_ends_below_its_upper() -> None:
    band = 'charge_at_least = "10 kg"\ncharge_below = "100 kg"\nco2e_at_least_t = 5\nco2e_below_t = 50\n'
    book = parse_rulebook(f'{HEAD}[[leak_check]]\nmonths = 6\ntext = "act"\n{band}')
    rule = book.sections["leak_check"][0]
    kg = 10**6
    of = partial(System, "other", "R-134a")
    assert [rule.applies(of(kg * mass), Decimal(5)) for mass in (9, 10, 99, 100)] == [False, True, True, False]
    tonnes = [Decimal("4.999"), Decimal(5), Decimal("49.999"), Decimal(50), None]
    assert [rule.applies(of(10 * kg), co2e_t) for co2e_t in tonnes] == [False, True, True, False, False]


def test_equipment_selectors_take_one_kind_or_all_below_it() -> None:
    assert selects_equipment(("*",), "stationary/small")
    assert selects_equipment(("vehicle/*",), "vehicle") and selects_equipment(("vehicle/*",), "vehicle/heavy")
    assert selects_equipment(("vehicle",), "vehicle") and not selects_equipment(("vehicle",), "vehicle/heavy")
    assert not selects_equipment(("vehicle/heavy",), "vehicle")


def test_keys_stand_once() -> None:
    caution = '[[caution]]\nkey = "a"\nsentence = "A."\nplaces = ["job"]\ntext = "act"\n'
    assert len(parse_rulebook(HEAD + caution).sections["caution"]) == 1
    with pytest.raises(RulebookError, match="caution: key 'a' stands twice"):
        parse_rulebook(HEAD + caution * 2)


@pytest.mark.parametrize("name", ["", "Generic", "../generic", "generic.toml", "/etc/passwd"])
def test_unknown_rulebook(name: str) -> None:
    with pytest.raises(UnknownRulebook, match="is no rulebook: write .*generic"):
        rulebook(name)
