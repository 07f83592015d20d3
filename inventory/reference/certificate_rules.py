"""Rules about people and companies: the certificates there are, what each allows, and what asks for one."""

from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from inventory.reference.pressure_class import pressure_class
from inventory.reference.refrigerants import refrigerants
from inventory.reference.rule import (
    BEARS,
    BEARS_NOT,
    ENFORCEMENTS,
    TRAITS,
    WORK,
    Bearing,
    Rule,
    Scoped,
    System,
)

# Who buys: a person, or an undertaking for which such a person works. A business of one is an undertaking.
BUYERS = {"person": "a person", "undertaking": "an undertaking"}

CHARGE_ASKED = "how much its full charge is"
PRESSURE_ASKED = "to which pressure class of 40 CFR 82.152 its refrigerant belongs"

# How far a pressure may be off where its class is to be confirmed: within 3 % of a limit, or estimated, about 5 %.
MARGINS = (Decimal("0.95"), Decimal("1.05"))


@dataclass(frozen=True, kw_only=True)
class CertificateScheme(Rule):
    """A certificate that people may hold. code "*" stands for any scheme.

    expiry: whether it "never", "may" or "must" carry an expiry day. refresh_years: how often it must be refreshed;
    older_before, refresh_first_due: those issued before the one day are refreshed for the first time by the other.
    """

    code: str
    title: str
    aliases: tuple[str, ...] = ()
    expiry: str = field(default="may", metadata={"words": ("never", "may", "must")})
    refresh_years: int | None = None
    older_before: date | None = None
    refresh_first_due: date | None = None


@dataclass(frozen=True, kw_only=True)
class Limited(Scoped):
    """A rule about systems up to a full charge. charge_below_mg, sealed_charge_below_mg: less than; charge_most_mg: up
    to and including."""

    charge_below_mg: int | None = None
    sealed_charge_below_mg: int | None = None
    charge_most_mg: int | None = None

    def bears_on(self, system: System) -> Bearing:
        """Whether it is about a system, its full charge included; None where that counts and is not known."""
        found = super().bears_on(system)
        below = self.charge_below_mg
        if system.sealed and self.sealed_charge_below_mg is not None:
            below = self.sealed_charge_below_mg
        if found.holds is False or (below is None and self.charge_most_mg is None):
            return found
        charge = system.charge_mg
        if charge is None:
            return Bearing(None, (*found.asks, CHARGE_ASKED))
        within = (below is None or charge < below) and (self.charge_most_mg is None or charge <= self.charge_most_mg)
        return found if within else BEARS_NOT


@dataclass(frozen=True, kw_only=True)
class Grant(Limited):
    """What certificates allow: work × systems. buyers: whom it helps to buy (keys of BUYERS).

    limited_to: of TRAITS; work of which one does not hold is not as the certificate allows. doubt: why it is to be
    confirmed with the authority that it allows this; blank: it is not.
    """

    schemes: tuple[str, ...]
    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    buyers: tuple[str, ...] = field(default=tuple(BUYERS), metadata={"words": tuple(BUYERS)})
    limited_to: tuple[str, ...] = field(default=(), metadata={"words": tuple(TRAITS)})
    doubt: str = ""

    def bears_on(self, system: System) -> Bearing:
        """Whether it is about a system; None too where it goes by a pressure class that is not known."""
        found = super().bears_on(system)
        gas = refrigerants().get(system.substance)
        if found.holds is not False or not self._by_pressure or gas is None or gas.pressure_class:
            return found
        whatever = replace(self, substances=("*",)).bears_on(system)
        return found if whatever.holds is False else Bearing(None, (*whatever.asks, PRESSURE_ASKED))

    @property
    def _by_pressure(self) -> bool:
        return any(word.startswith("pressure:") for word in self.substances)

    def pressure_doubtful(self, system: System) -> bool:
        """Whether it is about a system by a pressure class so near to another that it may not be about it."""
        gas = refrigerants().get(system.substance)
        by_name = {"*", system.substance} & set(self.substances)
        if by_name or not self._by_pressure or gas is None or not gas.pressure_class_to_confirm:
            return False
        pressure = gas.pressure_40_kpa
        if pressure is None:
            return False
        around = {pressure_class(pressure * margin, gas.critical_temperature_c) for margin in MARGINS}
        return any(f"pressure:{one}" not in self.substances for one in around)

    def limits_kept(self, system: System) -> Bearing:
        """Whether work on a system keeps within `limited_to`."""
        if set(self.limited_to) - system.holding - system.undecided:
            return BEARS_NOT
        asks = tuple(f"whether {TRAITS[name]}" for name in self.limited_to if name in system.undecided)
        return Bearing(None, asks) if asks else BEARS


@dataclass(frozen=True, kw_only=True)
class CertificateDemand(Limited):
    """Work for which a person must hold a certificate that allows it, valid on the day of the work.

    schemes: those that do, if they allow it. trainee_months: how long in all someone without one may work under
    supervision; None: not at all. container_below_mg: of a purchase, only in a container made to hold less than that.
    """

    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    schemes: tuple[str, ...] = ("*",)
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})
    trainee_months: int | None = None
    container_below_mg: int | None = None

    def holds_for(self, container_mg: int | None) -> bool:
        """Whether it holds for a container made to hold that much. One that is not known counts as small."""
        return self.container_below_mg is None or container_mg is None or container_mg < self.container_below_mg


@dataclass(frozen=True, kw_only=True)
class CompanyDemand(Limited):
    """Work for which the company itself must hold a certificate, valid on the day of the work."""

    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    enforcement: str = field(default="warn", metadata={"words": ENFORCEMENTS})
