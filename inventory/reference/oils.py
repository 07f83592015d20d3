"""Refrigeration oils: families, grades, and what is published about them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from types import MappingProxyType

from inventory.reference import lookup
from inventory.reference.sourced import Source, facts

# Refrigeration oils are sold from about VG 5 to VG 460 (from memory); anything outside is a typing mistake.
LEAST_GRADE, MOST_GRADE = 5, 460

_CODE = re.compile(r"([A-Za-z]+)[ -]*([0-9]{1,6})(?:[ -]+([A-Za-z0-9]{1,12}))?", re.ASCII)
_ALIASES = {"alkylbenzene": "ab", "naphthenic": "mineral"}


class UnknownOil(lookup.UnknownSubstance):
    """No oil has this code. The message says how an oil is written."""


@dataclass(frozen=True)
class OilFamily:
    """One family of oils. Densities in kg/L near 25 °C; hygroscopicity_rank: 1 takes up water fastest."""

    code: str
    name: str
    grades: tuple[int, ...]
    used_with: str
    compressor: str
    density_kg_l: Decimal
    density_low_kg_l: Decimal | None
    density_high_kg_l: Decimal | None
    hygroscopicity_rank: int
    water: str
    hydrolyses: bool | None
    suits_high_voltage: bool
    high_voltage_reason: str
    sources: Mapping[str, Source] = field(repr=False, hash=False, compare=False)


@dataclass(frozen=True)
class Oil:
    """An oil by family, ISO VG grade and, where one grade is sold in several kinds, a suffix."""

    family: OilFamily
    grade: int
    suffix: str = ""

    @property
    def code(self) -> str:
        return f"{self.family.code} {self.grade} {self.suffix}".rstrip()

    @property
    def density_kg_l(self) -> Decimal:
        """The default density of the family: to be shown as a default, with density_source."""
        return self.family.density_kg_l

    @property
    def density_source(self) -> Source:
        return self.family.sources["density_kg_l"]

    @property
    def hygroscopicity_rank(self) -> int:
        return self.family.hygroscopicity_rank

    @property
    def suits_high_voltage(self) -> bool:
        """Whether the family suits a high-voltage electric compressor. The compressor's label decides."""
        return self.family.suits_high_voltage

    @property
    def high_voltage_reason(self) -> str:
        return self.family.high_voltage_reason

    @property
    def high_voltage_source(self) -> Source:
        return self.family.sources["high_voltage_reason"]


@cache
def oil_families() -> Mapping[str, OilFamily]:
    """The families of oils by their code."""
    families = {}
    for code, of in facts("oils.csv").items():
        families[code] = OilFamily(
            code=code,
            name=of["name"].value,
            grades=tuple(int(grade) for grade in of["grades"].value.split(";")),
            used_with=of["used_with"].value,
            compressor=of["compressor"].value,
            density_kg_l=of["density_kg_l"].number,
            density_low_kg_l=of["density_low_kg_l"].number if "density_low_kg_l" in of else None,
            density_high_kg_l=of["density_high_kg_l"].number if "density_high_kg_l" in of else None,
            hygroscopicity_rank=int(of["hygroscopicity_rank"].value),
            water=of["water"].value if "water" in of else "",
            hydrolyses=of["hydrolyses"].value == "yes" if "hydrolyses" in of else None,
            suits_high_voltage=of["high_voltage"].value == "yes",
            high_voltage_reason=of["high_voltage_reason"].value,
            sources=MappingProxyType({name: fact.source for name, fact in of.items()}),
        )
    return MappingProxyType(families)


@cache
def common_oils() -> tuple[Oil, ...]:
    """The grades that are common in each family, to offer in a list; other plausible grades are oils too."""
    return tuple(Oil(family, grade) for family in oil_families().values() for grade in family.grades)


def _family_of(text: str) -> OilFamily | None:
    """The family whose name the text begins with."""
    word = re.match(r"\s*([A-Za-z]+)", str(text))
    if word is None:
        return None
    wanted = word.group(1).casefold()
    wanted = _ALIASES.get(wanted, wanted)
    by_name = {code.casefold(): family for code, family in oil_families().items()}
    return by_name.get(wanted)


def looks_like_oil(text: str) -> bool:
    """Whether a text begins with the name of a family of oils."""
    return _family_of(text) is not None


def parse_oil(code: str) -> Oil:
    """The oil of a code like "PAG 46", "POE 68" or "PAG 46 YF"; case and spacing do not matter.

    UnknownOil, with how an oil is written, for an unknown family or a grade that is not plausible.
    """
    typed = lookup.shown(code)
    match = _CODE.fullmatch(" ".join(str(code).split()))
    family = _family_of(code)
    if family is None:
        raise UnknownOil(
            f"{typed} is not an oil: write the family ({lookup.listed(oil_families())}) "
            "and the ISO VG number, like PAG 46."
        )
    example = f"{family.code} {family.grades[0]}"
    if match is None:
        raise UnknownOil(
            f"{typed} is not written as oils are here: the family, the ISO VG number and, if need be, "
            f"one word of letters and digits, like {example}."
        )
    grade, suffix = int(match.group(2)), (match.group(3) or "").upper()
    if suffix == "SUS":
        raise UnknownOil(
            f"{typed} gives the viscosity in SUS: write the ISO VG number, like {example}; 525 SUS is about VG 100."
        )
    if not LEAST_GRADE <= grade <= MOST_GRADE:
        raise UnknownOil(
            f"{typed} has no plausible grade: write an ISO VG number from {LEAST_GRADE} to {MOST_GRADE}; "
            f"usual in {family.code}: {lookup.listed(map(str, family.grades))}."
        )
    return Oil(family, grade, suffix)
