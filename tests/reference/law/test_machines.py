"""Machines. Expected values: 40 CFR 82.36(a)(2) to (10) and 82.42(a)(1), as read on 2026-11-28."""

import datetime as dt

import pytest

from inventory.reference.machine_rules import STATED
from inventory.reference.rulebook import rulebook
from inventory.verdicts.machine import MachineUsed, machine_approved, machine_stated

US = rulebook("us-federal")
DAY = dt.date(2026, 6, 15)


def approved(standard, substance, does="recycle", equipment="vehicle", book=US):
    return machine_approved(book, MachineUsed(frozenset({standard} - {""}), does, equipment, substance), DAY)


@pytest.mark.parametrize(
    ("standard", "substance", "does", "answer"),
    [
        pytest.param("SAE J2788", "R-1234yf", "recycle", "breach", id="US-15.1"),
        pytest.param("SAE J3030", "R-1234yf", "recycle", "met", id="US-15.4-R-1234yf"),
        pytest.param("sae j3030", "R-134a", "recycle", "met", id="US-15.4-R-134a"),
        ("J2788", "R-134a", "recycle", "met"),
        ("SAE J2843", "R-1234yf", "recycle", "met"),
        ("SAE J2843", "R-134a", "recycle", "breach"),
        ("SAE J2810", "R-134a", "recover", "met"),
        ("SAE J2810", "R-134a", "recycle", "breach"),  # recovers only
        ("SAE J2851", "R-1234yf", "recover", "met"),
        ("SAE J2851", "R-1234yf", "recycle", "breach"),
        ("Appendix E", "R-12", "recycle", "met"),
        ("Appendix E", "R-1234yf", "recycle", "breach"),
        ("Appendix F", "R-152a", "recover", "met"),
        ("Appendix F", "R-134a", "recover", "breach"),
        ("Appendix A", "R-12", "recycle", "met"),
    ],
)
def test_a_machine_for_vehicles_is_approved_by_its_refrigerant(standard, substance, does, answer):
    found = approved(standard, substance, does)
    assert found.answer == answer
    assert "82.36(a)" in found.cited and not found.to_be_confirmed
    if answer == "breach":
        assert "must meet one of" in found.said


def test_a_machine_whose_plate_nobody_read_cannot_be_judged():
    found = approved("", "R-134a")
    assert found.is_open and found.ask == ("which standards its plate names",)


def test_no_standard_is_asked_of_a_machine_for_other_equipment_nor_elsewhere():
    assert approved("", "R-410A", equipment="stationary").answer == "free"
    assert approved("", "R-134a", book=rulebook("eu")).answer == "free"
    nobody_said = approved("SAE J2788", "R-1234yf", equipment=None)
    assert nobody_said.is_open and nobody_said.ask == ("whether it is used on vehicles",)
    assert approved("SAE J2788", "R-134a", equipment=None).answer == "met"


@pytest.mark.parametrize("case", [pytest.param(None, id="US-15.2")])
def test_the_authority_was_told_of_a_machine_for_vehicles(case):
    found = machine_stated(US, ["vehicle"], set(STATED) - {"copy"}, DAY)
    assert found.is_breach and "a copy of the statement" in found.said and "82.42(a)(1)" in found.cited
    assert machine_stated(US, ["vehicle/heavy"], set(STATED), DAY).answer == "met"
    for need in STATED:
        assert STATED[need] in machine_stated(US, ["vehicle"], set(STATED) - {need}, DAY).said
    assert machine_stated(US, None, set(STATED), DAY).is_open


@pytest.mark.parametrize("case", [pytest.param(None, id="US-15.3")])
def test_nothing_is_filed_for_equipment_under_section_608(case):
    for equipment in (["stationary", "transport"], ["vehicle/train"], []):
        assert machine_stated(US, equipment, (), DAY) is None
    assert machine_stated(rulebook("eu"), ["vehicle"], (), DAY) is None
