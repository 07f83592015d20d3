"""A year of an invented shop under each rulebook: its findings are those that a list written by hand says.

The year, by hand. Each line is what an inspector would see, and under which rulebooks:

J-1  February  Ines, certified for vehicles, charges 500 g into a car whose label says 480 g to 520 g: nothing.
J-2  March     Timo, who holds no certificate, recovers 300 g from a car and charges 500 g.
               generic, us, eu: charging and recovering; gb: recovering only (GOV.UK guidance on F gas).
J-3  April     Ines charges 560 g where the label's most is 520 g: good practice everywhere, no reason was given.
J-4  May       Ines charges 200 g of what J-2 recovered, not recycled.
               us: 40 CFR 82.32(e)(1), eu: article 8(6), refused there, so high; generic and gb: good practice, medium.
J-5  June, J-6 November: Hugo, certified for stationary work, charges 2 kg of virgin R-404A each time into a cold room
               that holds 9 kg (19.8 lb, 35 t CO2e). 2 of 9 kg are 22.22 %, 4 of 9 kg in 365 days 44.44 %.
               us: leak rate over 20 % at both (40 CFR 84.106(c)(2)(i), from 15 lb on), high, twice. From 1 June 30
               days, to 1 July, which the second does not restart: inspection, repair, initial test and, instead of
               them, a plan are late (84.106(d), (e), (h)): high, four times. Nobody set a method: low.
               eu: article 13(3) forbids virgin gas of a GWP of 2500 and more in refrigeration since 2025, twice; a leak
               check every 12 months, never done.
               gb: a leak check every 12 months (article 4(3)), never done.
               us: nobody knows where it stands, which the owner is told with each service (84.106(l)(4)): medium,
               twice; nor when it was installed (84.106(l)(1)): low. eu and gb: how much was added at the installation
               is not known apart (article 7(1)(a); 6(1)(a)): low.
               eu: the company has no certificate of its own on file (article 10(2)); gb: the same (article 10(6), from
               memory): medium, once for the year.
S-1  July      300 g less 200 g go to a reclaimer without address and registration: medium everywhere.
D-1, D-2       Two deliveries, their papers not attached: low, twice.
Count, August  A cylinder is 150 g lighter than the book, and nobody says why: medium.
Scale          Checked until 30 June, and not since: low.
"""

import datetime as dt

import pytest

from inventory.shop.models import Shop
from jobs.units.models import Unit
from shopledger.findings.queries import findings
from shopledger.logbook.actions import LogRefused, load
from shopledger.reporting.report import Period

pytestmark = pytest.mark.django_db
YEAR = Period(dt.date(2026, 1, 1), dt.date(2026, 12, 31))
CERTIFICATES = {  # for vehicles, for stationary equipment
    "generic": ("Trade school", "Trade school"),
    "us-federal": ("609", "608 Universal"),
    "eu": ("M1", "A1"),
    "gb": ("307/2008", "Category I"),
}
LOG = {
    "parties": "name,role,address,registration\nRenew,reclaimer,,\nGas Supply,supplier,,\n",
    "scales": "code,capacity,readability,checked_until\nbench,60 kg,1 g,2026-06-30\n",
    "opening": "date,container,kind,substance,grade,net,tare,retest_due,location\n"
    "2026-01-05,REC,recovery,R-134a,recovered,0 g,8 kg,2029-01-31,Store\n",
    "receipts": "date,document,supplier,container,kind,substance,grade,net,tare,retest_due,location,price,received_by\n"
    "2026-01-08,D-1,Gas Supply,CYL,refillable,R-134a,virgin,10 kg,7 kg,2029-01-31,Store,,omar\n"
    "2026-01-09,D-2,Gas Supply,COLD,refillable,R-404A,virgin,10 kg,7 kg,2029-01-31,Store,,omar\n",
    "jobs": "job,date,technician,customer,unit,vin,substance,charge_min,charge_max\n"
    "J-1,2026-02-10,ines,Ada,CAR 1,,R-134a,480 g,520 g\nJ-2,2026-03-10,timo,Ada,CAR 1,,R-134a,480 g,520 g\n"
    "J-3,2026-04-10,ines,Ben,CAR 2,,R-134a,480 g,520 g\nJ-4,2026-05-10,ines,Ben,CAR 2,,R-134a,480 g,520 g\n"
    "J-5,2026-06-01,hugo,Cas,COLD ROOM,,R-404A,,9 kg\nJ-6,2026-11-01,hugo,Cas,COLD ROOM,,R-404A,,9 kg\n",
    "job_lines": "job,action,container,scale,before,after,quantity\nJ-1,charge,CYL,bench,17000 g,16500 g,\n"
    "J-2,recover,REC,bench,8000 g,8300 g,\nJ-2,charge,CYL,bench,16500 g,16000 g,\n"
    "J-3,charge,CYL,bench,16000 g,15440 g,\n"
    "J-4,charge,REC,bench,8300 g,8100 g,\nJ-5,charge,COLD,bench,17000 g,15000 g,\n"
    "J-6,charge,COLD,bench,15000 g,13000 g,\n",
    "counts": "date,container,scale,gross,by,note\n2026-08-03,CYL,bench,15290 g,omar,\n",
    "shipments": "date,document,party,purpose,container,quantity\n2026-07-03,S-1,Renew,reclaim,REC,\n",
}
EVERYWHERE = [
    ("medium", "charge over the label", "J-3"),
    ("medium", "destination", "S-1"),
    ("medium", "difference without a reason", "150 g"),
    ("low", "invoice", "D-1"),
    ("low", "invoice", "D-2"),
    ("low", "scale check", "bench"),
]
EXPECTED = {
    "generic": [
        ("high", "certificate", "J-2"),
        ("high", "certificate", "J-2"),
        ("medium", "reuse", "J-4"),
    ],
    "us-federal": [
        ("high", "certificate", "J-2"),
        ("high", "certificate", "J-2"),
        ("high", "reuse", "J-4"),
        ("high", "leak rate", "22.22 % a year, over 20 %: it was to be repaired by 2026-07-01"),
        ("high", "leak rate", "44.44 % a year, over 20 %: it was to be repaired by 2026-07-01"),
        ("high", "leak repair", "leak inspection: late, by 2026-07-01"),
        ("high", "leak repair", "repair: late, by 2026-07-01"),
        ("high", "leak repair", "initial verification test: late, by 2026-07-01"),
        ("high", "leak repair", "plan to retrofit or retire it, where it is not repaired: late, by 2026-07-01"),
        ("low", "leak rate method", "the rolling average is used"),
        ("medium", "record", "J-5"),
        ("medium", "record", "J-6"),
        ("low", "record of a unit", "the day it was installed"),
    ],
    "eu": [
        ("high", "certificate", "J-2"),
        ("high", "certificate", "J-2"),
        ("high", "reuse", "J-4"),
        ("high", "service ban", "J-5"),
        ("high", "service ban", "J-6"),
        ("high", "leak check", "COLD ROOM"),
        ("medium", "company certificate", "J-5"),
        ("low", "record of a unit", "added at the installation"),
    ],
    "gb": [
        ("high", "certificate", "J-2"),
        ("medium", "reuse", "J-4"),
        ("high", "leak check", "COLD ROOM"),
        ("medium", "company certificate", "J-5"),
        ("low", "record of a unit", "added at the installation"),
    ],
}
CITED = {
    "us-federal": {
        "certificate": "40 CFR 82.34(a) and 82.32(h)",
        "reuse": "40 CFR 82.32(e)(1)",
        "leak rate": "40 CFR 84.106(a) and (c)(2)(i)",
        "leak repair": "40 CFR 84.106(",  # (d)(1) and (d), (e)(1), (h), each step its own
        "record": "40 CFR 84.106(b) and (l)(4)",
        "record of a unit": "40 CFR 84.106(l)(1)",
    },
    "eu": {"reuse": "article 8(6)", "service ban": "article 13(3)", "leak check": "article 5(1), (3)(a) and (6)"},
    "gb": {"leak check": "(to be confirmed with the authority)"},
    "generic": {"certificate": "Common practice, no source"},
}


@pytest.mark.parametrize("name", list(CERTIFICATES))
def test_a_year_has_the_findings_that_were_written_down(name, tmp_path):
    vehicles, stationary = CERTIFICATES[name]
    files = LOG | {
        "shop": f"name,address,timezone,rulebook,readability\nExample,1 Road,UTC,{name},1 g\n",
        "people": "username,name,role,scheme,certificate,issuer,issued,expires\n"
        f"ines,Ines Example,technician,{vehicles},C-1,School,2025-10-15,\n"
        f"hugo,Hugo Example,technician,{stationary},C-2,School,2025-10-15,\n"
        "timo,Timo Example,technician,,,,,\nomar,Omar Example,office,,,,,\n",
    }
    for file, text in files.items():
        (tmp_path / f"{file}.csv").write_text(text)
    try:
        load(tmp_path)
    except LogRefused as refused:
        pytest.fail("\n".join(refused.faults))
    assert Shop.current().rulebook == name
    # A log names no kinds: what is not a car is put right by hand, as a shop would.
    assert Unit.objects.filter(name="COLD ROOM").update(kind="stationary", exactly="refrigeration") == 1
    found = findings(YEAR)
    assert sorted((one.severity, one.rule) for one in found) == sorted(
        (severity, rule) for severity, rule, _ in EXPECTED[name] + EVERYWHERE
    )
    for severity, rule, words in EXPECTED[name] + EVERYWHERE:
        assert any((one.severity, one.rule) == (severity, rule) and words in one.what for one in found), (rule, words)
    for rule, citation in CITED[name].items():
        assert all(citation in one.citation for one in found if one.rule == rule), (rule, citation)
    assert all(one.where.startswith("/") for one in found)
