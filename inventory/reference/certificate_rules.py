"""Rules about people: the certificates there are, what each allows, and what work asks for one."""

from dataclasses import dataclass, field
from datetime import date

from inventory.reference.rule import ENFORCEMENTS, WORK, Rule, Scoped, System, selects_equipment, selects_substance


@dataclass(frozen=True, kw_only=True)
class CertificateScheme(Rule):
    """A certificate that people may hold. code "*" stands for any scheme.

    expiry: "never", "may" or "must" carry an expiry day. refresh_years: how often it must be refreshed;
    refresh_first_due: the day by which the first refresher is due for those certified before.
    """

    code: str
    title: str
    aliases: tuple[str, ...] = ()
    expiry: str = field(default="may", metadata={"words": ("never", "may", "must")})
    refresh_years: int | None = None
    refresh_first_due: date | None = None


@dataclass(frozen=True, kw_only=True)
class Grant(Scoped):
    """What certificates allow: work × equipment × substances, and only up to a charge where one is given.

    charge_below_mg and sealed_charge_below_mg: less than; charge_most_mg: up to and including.
    """

    schemes: tuple[str, ...]
    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    charge_below_mg: int | None = None
    sealed_charge_below_mg: int | None = None
    charge_most_mg: int | None = None

    def covers(self, work: str, system: System) -> bool:
        """Whether it allows this. Equipment or a charge that is not known counts as within the limits."""
        if work not in self.work:
            return False
        if system.equipment is not None and not selects_equipment(self.equipment, system.equipment):
            return False
        if not selects_substance(self.substances, system.substance):
            return False
        charge_mg = system.charge_mg
        if charge_mg is None:
            return True
        below = self.charge_below_mg
        if system.sealed and self.sealed_charge_below_mg is not None:
            below = self.sealed_charge_below_mg
        return (below is None or charge_mg < below) and (
            self.charge_most_mg is None or charge_mg <= self.charge_most_mg
        )


@dataclass(frozen=True, kw_only=True)
class CertificateDemand(Scoped):
    """Work for which a person must hold a certificate that allows it, valid on the day of the work.

    trainee_months: how long someone without one may work under supervision; None: not at all.
    container_below_mg: only for a container made to hold less than that.
    """

    work: tuple[str, ...] = field(metadata={"words": tuple(WORK)})
    enforcement: str = field(default="refuse", metadata={"words": ENFORCEMENTS})
    trainee_months: int | None = None
    container_below_mg: int | None = None

    def holds_for(self, container_mg: int | None) -> bool:
        """Whether it holds for a container made to hold that much. One that is not known counts as small."""
        return self.container_below_mg is None or container_mg is None or container_mg < self.container_below_mg
