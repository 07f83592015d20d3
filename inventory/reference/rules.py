"""The sections of a rulebook, one class of rule for each; most have files of their own, by what they are about. Every
rule names the text it stands in, the day that text was read, how well it is known, and the days on which it applies
(`rule.py`)."""

from dataclasses import dataclass, field
from decimal import Decimal

from inventory.reference.certificate_rules import CertificateDemand, CertificateScheme, CompanyDemand, Grant
from inventory.reference.charging_rules import LeakTest, ProhibitedCharging
from inventory.reference.container_rules import (
    ContainerDisposal,
    ContainerLabel,
    Retest,
    SafeFill,
    SingleUse,
    SmallCan,
)
from inventory.reference.gas_rules import Reuse, ServiceBan
from inventory.reference.leak_rate_rules import LeakRate, LeakStep
from inventory.reference.leak_rules import LeakCheck, LeakDetection, LeakRepair
from inventory.reference.machine_rules import MachineStandard, MachineStatement
from inventory.reference.period_rules import ContainerCheck, PeriodFigure, ReleaseReport
from inventory.reference.record_rules import RecordKept, Retention
from inventory.reference.rule import PLACES, Exemption, Rule, Scoped
from inventory.reference.trade_rules import Sale


@dataclass(frozen=True, kw_only=True)
class GwpChoice(Rule):
    """The GWP basis on which this rulebook counts CO₂ equivalents."""

    basis: str


# The page that shows a duty.
DUTY_PAGES = {
    "unit": "a unit's page",
    "people": "the people",
    "receiving": "what comes in",
    "container": "a container's page",
    "shipping": "what is sent away",
    "machines": "the machines",
    "inspectors": "inspectors",
}


@dataclass(frozen=True, kw_only=True)
class Duty(Scoped):
    """A duty in words, for what no figure can check. page: of DUTY_PAGES, which shows it."""

    page: str = field(metadata={"words": tuple(DUTY_PAGES)})
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Caution(Rule):
    """A short warning, where it is shown and for which substances."""

    key: str
    sentence: str
    places: tuple[str, ...] = field(metadata={"words": (*PLACES, "*")})
    substances: tuple[str, ...] = ("*",)


@dataclass(frozen=True, kw_only=True)
class Practice(Rule):
    """A figure of good practice that a shop may replace by its own, such as how long to evacuate."""

    key: str
    value: Decimal
    unit: str
    label: str


# The section of a rulebook file -> the rules it holds.
SECTIONS: dict[str, type[Rule]] = {
    "retention": Retention,
    "gwp": GwpChoice,
    "exemption": Exemption,
    "scheme": CertificateScheme,
    "grant": Grant,
    "certificate_demand": CertificateDemand,
    "company_demand": CompanyDemand,
    "sale": Sale,
    "reuse": Reuse,
    "service_ban": ServiceBan,
    "prohibited_charging": ProhibitedCharging,
    "leak_check": LeakCheck,
    "leak_detection": LeakDetection,
    "leak_rate": LeakRate,
    "leak_step": LeakStep,
    "leak_repair": LeakRepair,
    "leak_test": LeakTest,
    "release_report": ReleaseReport,
    "single_use": SingleUse,
    "retest": Retest,
    "container_label": ContainerLabel,
    "container_disposal": ContainerDisposal,
    "small_can": SmallCan,
    "container_check": ContainerCheck,
    "safe_fill": SafeFill,
    "machine": MachineStandard,
    "machine_statement": MachineStatement,
    "record": RecordKept,
    "period_figures": PeriodFigure,
    "duty": Duty,
    "caution": Caution,
    "practice": Practice,
}
