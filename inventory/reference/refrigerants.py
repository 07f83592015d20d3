"""Refrigerants: what is published about each, with the source of every value.

A single gas carries a GWP per basis. A blend carries only its composition by mass; its GWP, ODP and molar
mass are computed from the gases in it, exactly.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal, localcontext
from functools import cache
from types import MappingProxyType

from inventory.reference import lookup, mixtures, pressure_class
from inventory.reference.mixtures import weighted
from inventory.reference.sourced import Fact, Source, facts, weakest

FLUORINATED = frozenset({"CFC", "HCFC", "HFC", "PFC", "HFO", "HCFO", "iodofluorocarbon"})

MILLIGRAMS_PER_TONNE = 10**9


class UnknownRefrigerant(lookup.UnknownSubstance):
    """No refrigerant has this designation. The message names what is near."""


class UnknownBasis(LookupError):
    """No GWP basis has this name. The message lists those there are."""


@dataclass(frozen=True)
class GwpBasis:
    """A set of GWP values that a law or a report names.

    left_out: which gases without a value count 0 inside a blend: "none", "non-fluorinated" or "all".
    """

    code: str
    label: str
    left_out: str
    note: str = ""


_BASES = (
    GwpBasis(
        "ar4",
        "IPCC AR4 (2007), 100 years",
        "none",
        "AR4 has no values for HFOs and HCs: those of Regulation (EU) 517/2014 stand in.",
    ),
    GwpBasis(
        "ar5",
        "IPCC AR5 (2014), 100 years",
        "non-fluorinated",
        "AR5 has no values for hydrocarbons: they count 0 in a blend.",
    ),
    GwpBasis(
        "ar6",
        "IPCC AR6 (2021), 100 years",
        "none",
        "Where AR6 has no value for a hydrocarbon, that of Regulation (EU) 2024/573, Annex VI, stands in.",
    ),
    GwpBasis(
        "eu-2024-573",
        "Regulation (EU) 2024/573",
        "non-fluorinated",
        "Annex VI counts a non-fluorinated gas that it does not list as 0 in a mixture.",
    ),
    GwpBasis(
        "us-exchange",
        "42 U.S.C. 7675(c), exchange values",
        "all",
        "Only regulated HFCs have an exchange value; a blend counts its HFC part.",
    ),
    GwpBasis(
        "us-84-64",
        "40 CFR 84.64",
        "none",
        "Regulated HFCs count their exchange value, others that of table 1; with a gas in neither, no value.",
    ),
)
GWP_BASES: Mapping[str, GwpBasis] = MappingProxyType({basis.code: basis for basis in _BASES})


@dataclass(frozen=True)
class Refrigerant:
    """One refrigerant. A value that is not published is None, never 0.

    Densities are of saturated liquid (bubble point) and saturated vapour (dew point), kg/m³, at the
    temperature in the name in °C (54.4 °C is 130 °F). pressure_40_kpa: absolute, at which the liquid begins to
    boil at 40 °C. composition: (designation, mass fraction) of each gas in a blend, empty for a single gas.
    odp_range: least and most, of what Regulation (EU) 2024/590 lists with a range only.
    is_gas_for_transport: whether ADR 2.2.2.1.1 makes it a gas of class 2. p200_lines: (test pressure of the
    cylinder in bar, most kg for each litre of water capacity) by ADR P200 table 2, weakest cylinder first;
    p200_5b_lines: the same by rule (5)(b), worked out, where the table has no line. least_test_pressure_bar:
    what P200 (5)(c) asks of a cylinder, where the table has no line. cfr_filling_density_pct: 49 CFR 173.304a,
    percent of the water mass.
    """

    designation: str
    kind: str
    name: str
    other_names: tuple[str, ...]
    use: str
    cas: str | None
    safety_class: str | None
    composition: tuple[tuple[str, Decimal], ...]
    odp: Decimal | None
    odp_range: tuple[Decimal, Decimal] | None
    molar_mass_g_mol: Decimal | None
    critical_temperature_c: Decimal | None
    pressure_40_kpa: Decimal | None
    liquid_density_25_kg_m3: Decimal | None
    liquid_density_50_kg_m3: Decimal | None
    liquid_density_54_4_kg_m3: Decimal | None
    liquid_density_55_kg_m3: Decimal | None
    liquid_density_60_kg_m3: Decimal | None
    vapour_density_25_kg_m3: Decimal | None
    is_gas_for_transport: bool
    p200_lines: tuple[tuple[Decimal, Decimal], ...]
    p200_5b_lines: tuple[tuple[Decimal, Decimal], ...]
    least_test_pressure_bar: Decimal | None
    cfr_filling_density_pct: Decimal | None
    listed_gwp: Mapping[str, Decimal] = field(repr=False, hash=False, compare=False)
    sources: Mapping[str, Source] = field(repr=False, hash=False, compare=False)

    @property
    def is_blend(self) -> bool:
        return bool(self.composition)

    @property
    def is_flammable(self) -> bool:
        """Flammable to any degree: class 2L, 2 or 3 of ISO 817. An unknown class counts as flammable."""
        return self.safety_class is None or self.safety_class[1:] != "1"

    @property
    def is_mildly_flammable(self) -> bool:
        """Class 2L of ISO 817, such as R-1234yf."""
        return self.safety_class is not None and self.safety_class.endswith("2L")

    @property
    def is_fluorinated(self) -> bool:
        return not FLUORINATED.isdisjoint(self.kinds)

    @property
    def depletes_ozone(self) -> bool:
        """By 40 CFR part 82 or Regulation (EU) 2024/590, Annexes I and II."""
        return bool(self.odp) or self.odp_range is not None

    @property
    def kinds(self) -> frozenset[str]:
        """The kind of each gas in it: one for a single gas, perhaps several for a blend."""
        if not self.composition:
            return frozenset({self.kind})
        return frozenset(refrigerant(part).kind for part, _ in self.composition)

    @property
    def computed_filling_ratio_kg_l(self) -> Decimal | None:
        """Most kg for each litre of water capacity by ADR P200 (5)(c), for gases without a line in table 2.

        0.95 × the liquid density at 50 °C, and not liquid-full at 60 °C.
        """
        if self.liquid_density_50_kg_m3 is None or self.liquid_density_60_kg_m3 is None:
            return None
        return min(Decimal("0.95") * self.liquid_density_50_kg_m3, self.liquid_density_60_kg_m3) / 1000

    def part_of(self, kinds: frozenset[str]) -> Decimal:
        """The mass fraction that gases of these kinds are of it, from 0 to 1: of R-454C, 0.785 is HFO."""
        if not self.composition:
            return Decimal(self.kind in kinds)
        fractions = (fraction for part, fraction in self.composition if refrigerant(part).kind in kinds)
        return sum(fractions, Decimal(0))

    @property
    def pressure_class(self) -> str | None:
        """ "low", "medium", "high" or "very high" by 40 CFR 82.152; None where its pressure is not known."""
        return pressure_class.pressure_class(self.pressure_40_kpa, self.critical_temperature_c)

    @property
    def pressure_class_to_confirm(self) -> bool:
        """Whether the class is to be confirmed: a pressure near a limit, an estimate, or one from memory."""
        source = self.sources.get("pressure_40_kpa")
        if source is not None and source.confidence in ("estimated", "memory"):
            return True
        return pressure_class.is_near_a_limit(self.pressure_40_kpa, self.critical_temperature_c)

    def liquid_density(self, celsius: Decimal) -> Decimal | None:
        """The stored density of the saturated liquid at one of DENSITY_TEMPERATURES, kg/m³. KeyError for any other."""
        return getattr(self, DENSITY_TEMPERATURES[celsius])


DENSITY_TEMPERATURES: Mapping[Decimal, str] = MappingProxyType(
    {Decimal(text): f"liquid_density_{text.replace('.', '_')}_kg_m3" for text in ("25", "50", "54.4", "55", "60")}
)

_NUMBERS = (
    "critical_temperature_c",
    "pressure_40_kpa",
    *DENSITY_TEMPERATURES.values(),
    "vapour_density_25_kg_m3",
    "least_test_pressure_bar",
    "cfr_filling_density_pct",
)


def _number(facts_of: Mapping[str, Fact], name: str) -> Decimal | None:
    return facts_of[name].number if name in facts_of else None


def _lines(facts_of: Mapping[str, Fact], name: str) -> tuple[tuple[Decimal, Decimal], ...]:
    """Pairs of numbers, from "35:0.87;49:0.95"."""
    if name not in facts_of:
        return ()
    pairs = (pair.split(":") for pair in facts_of[name].value.split(";"))
    return tuple(sorted((Decimal(first), Decimal(second)) for first, second in pairs))


def _odp_range(parts: list[tuple[Decimal, Mapping[str, Fact]]]) -> tuple[Decimal, Decimal] | None:
    """Least and most ODP of a blend with a gas that has a range; None where none of its gases has one."""
    if not any("odp_least" in of_part for _, of_part in parts):
        return None

    def total(name: str) -> Decimal | None:
        values = ((share, _number(of, name) if name in of else _number(of, "odp")) for share, of in parts)
        return weighted(values)

    least, most = total("odp_least"), total("odp_most")
    return None if least is None or most is None else (least, most)


def _read(designation: str, all_facts: Mapping[str, Mapping[str, Fact]]) -> Refrigerant:
    facts_of = all_facts[designation]

    def text(name: str) -> str | None:
        return facts_of[name].value if name in facts_of else None

    composition = mixtures.parse_composition(facts_of["composition"].value) if "composition" in facts_of else ()
    parts = [(fraction, all_facts[part]) for part, fraction in composition]
    sources = {name: fact.source for name, fact in facts_of.items()}
    odp, molar_mass = _number(facts_of, "odp"), _number(facts_of, "molar_mass_g_mol")
    if composition:
        odp = weighted((fraction, _number(of_part, "odp")) for fraction, of_part in parts)
        molar_mass = mixtures.molar_mass((fraction, _number(of, "molar_mass_g_mol")) for fraction, of in parts)
        sources["odp"] = sources["molar_mass_g_mol"] = sources["composition"]
    return Refrigerant(
        designation=designation,
        kind=facts_of["kind"].value,
        name=text("name") or "",
        other_names=tuple(filter(None, (text("other_names") or "").split(";"))),
        use=text("use") or "",
        cas=text("cas"),
        safety_class=text("safety_class"),
        composition=composition,
        odp=odp,
        odp_range=_odp_range(parts or [(Decimal(1), facts_of)]),
        molar_mass_g_mol=molar_mass,
        **{name: _number(facts_of, name) for name in _NUMBERS},
        is_gas_for_transport=text("adr_class_2") != "no",
        p200_lines=_lines(facts_of, "p200_lines"),
        p200_5b_lines=_lines(facts_of, "p200_5b_lines"),
        listed_gwp=MappingProxyType({name: fact.number for name, fact in facts_of.items() if name.startswith("gwp")}),
        sources=MappingProxyType(sources),
    )


@cache
def refrigerants() -> Mapping[str, Refrigerant]:
    """All refrigerants by designation: those of vehicles first, mere parts of blends last."""
    all_facts = facts("refrigerants.csv")
    return MappingProxyType({designation: _read(designation, all_facts) for designation in all_facts})


def refrigerant(designation: str) -> Refrigerant:
    """The refrigerant of exactly this designation.

    UnknownRefrigerant, with the spelling that was meant or the nearest designations, for any other text.
    """
    known = refrigerants()
    if designation in known:
        return known[designation]
    typed = f"{lookup.shown(designation)} is not the designation of a refrigerant"
    meant = spelling_meant(designation)
    if meant:
        raise UnknownRefrigerant(f"{typed}: write {meant}.")
    near = lookup.near(designation, known)
    if near:
        raise UnknownRefrigerant(f"{typed} known here. Near it: {lookup.listed(near)}.")
    raise UnknownRefrigerant(f"{typed} known here: one is written like R-134a, R-1234yf or R-404A.")


def spelling_meant(text: str) -> str | None:
    """The designation that a text means by another spelling or name, such as "r134a" or "CO2"; or None."""
    names = {designation: (found.name, *found.other_names) for designation, found in refrigerants().items()}
    return lookup.meant(text, names)


def gwp_basis(code: str) -> GwpBasis:
    """The GWP basis of that code. UnknownBasis, with those there are, for any other."""
    if code not in GWP_BASES:
        raise UnknownBasis(f"{lookup.shown(code)} is no GWP basis: write {lookup.listed(GWP_BASES)}.")
    return GWP_BASES[code]


def _names_in_blend(basis: GwpBasis) -> tuple[str, str]:
    """Where a gas says what it counts inside a blend, before what it counts alone."""
    return f"gwp_in_blend:{basis.code}", f"gwp:{basis.code}"


def part_gwp(part: Refrigerant, basis: GwpBasis) -> Decimal | None:
    """What a gas counts inside a blend: 0 where the basis leaves it out, None where a value is missing."""
    for name in _names_in_blend(basis):
        if name in part.listed_gwp:
            return part.listed_gwp[name]
    left_out = basis.left_out == "all" or (basis.left_out == "non-fluorinated" and not part.is_fluorinated)
    return Decimal(0) if left_out else None


def gwp(designation: str, basis: str) -> Decimal | None:
    """GWP over 100 years, unrounded; None where the basis has no value. Blends: by composition, exact.

    UnknownRefrigerant, UnknownBasis.
    """
    found, of_basis = refrigerant(designation), gwp_basis(basis)
    if not found.is_blend:
        return found.listed_gwp.get(f"gwp:{basis}")
    parts = [(fraction, refrigerant(part)) for part, fraction in found.composition]
    if not any(f"gwp:{basis}" in part.listed_gwp for _, part in parts):
        return None  # a blend of nothing but left-out gases has no value, rather than 0
    return weighted((fraction, part_gwp(part, of_basis)) for fraction, part in parts)


def _percent(fraction: Decimal) -> str:
    return format((fraction * 100).normalize(), "f")


def gwp_or_none(designation: str, basis: str) -> Decimal | None:
    """The GWP, or None where the refrigerant is not known or none is published on that basis."""
    try:
        return gwp(designation, basis)
    except (UnknownRefrigerant, LookupError):
        return None


def gwp_source(designation: str, basis: str) -> Source | None:
    """Where that GWP comes from; None where there is no value.

    A blend names its gases and what each counts, and is known no better than the weakest of them.
    UnknownRefrigerant, UnknownBasis.
    """
    if gwp(designation, basis) is None:
        return None
    found, of_basis = refrigerant(designation), gwp_basis(basis)
    if not found.is_blend:
        return found.sources[f"gwp:{basis}"]
    told, used = [], []
    for part, fraction in found.composition:
        of_part = refrigerant(part)
        told.append(f"{_percent(fraction)} % {part} at {part_gwp(of_part, of_basis)}")
        used += [of_part.sources[name] for name in _names_in_blend(of_basis) if name in of_part.sources][:1]
    titles = "; ".join(dict.fromkeys(source.title for source in used))
    used.append(found.sources["composition"])
    return Source(
        title=f"Computed from the composition by mass, {', '.join(told)}. {titles}",
        confidence=weakest(["computed", *(source.confidence for source in used)]),
        read_on=min((source.read_on for source in used if source.read_on), default=None),
        note=of_basis.note,
    )


def display_gwp(value: Decimal | None) -> str:
    """A GWP as people read it: whole from 10 up, rounded half up (2087.5 is 2088); below 10 as published."""
    if value is None:
        return "no value"
    if abs(value) >= 10:
        return str(value.quantize(Decimal(1), ROUND_HALF_UP))
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def co2e_tonnes(designation: str, basis: str, milligrams: int) -> Decimal | None:
    """Tonnes of CO₂ equivalent of a mass in milligrams, unrounded; None where the basis has no GWP.

    Mass in metric tonnes × GWP: Regulation (EU) 2024/573, article 3(3). UnknownRefrigerant, UnknownBasis.
    """
    value = gwp(designation, basis)
    if value is None:
        return None
    with localcontext() as context:
        context.prec = 60
        return Decimal(milligrams) * value / MILLIGRAMS_PER_TONNE
