"""The kinds of container there are, and what each is like. Pure: no Django here.

To add one: an entry here, a migration for the constraint of the container's table (`makemigrations` writes it), and
a row in the README's list of kinds. Forms, pages, rules, the log and the signing of jobs ask for traits, never for a
kind by its name.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """code: in the ledger, the log and the rulebooks. prefix: of the codes that are made for its containers.
    usual_grade: of what comes in one, blank for oils."""

    code: str
    label: str
    prefix: str
    usual_grade: str
    is_oil: bool = False
    refillable: bool = False  # refrigerant may be filled into it
    recovers: bool = False  # it is offered where refrigerant is taken out of a unit
    recycles: bool = False  # what it takes becomes recycled refrigerant
    on_scale: bool = True  # what it gives is weighed; otherwise it shows that itself
    sealed_new: bool = False  # it comes sealed, and holds what its label says until it is opened
    small_receptacle: bool = False  # a gas cartridge of UN 2037, rather than a cylinder
    goes_away: bool = True  # it is offered where refrigerant is sent away

    @property
    def single_use(self) -> bool:
        """Nothing may be filled into it."""
        return not self.refillable and not self.is_oil


KINDS = {
    kind.code: kind
    for kind in (
        Kind(
            "can", "can (small, single use)", "CAN", "virgin", sealed_new=True, small_receptacle=True, goes_away=False
        ),
        Kind("disposable", "disposable cylinder (single use)", "DSP", "virgin", sealed_new=True),
        Kind("refillable", "refillable cylinder", "CYL", "virgin", refillable=True),
        Kind("recovery", "recovery cylinder", "REC", "recovered", refillable=True, recovers=True),
        Kind(
            "machine",
            "service machine's tank",
            "MAC",
            "recycled",
            refillable=True,
            recovers=True,
            recycles=True,
            on_scale=False,
        ),
        Kind("oil", "oil bottle or can", "OIL", "", is_oil=True, on_scale=False, sealed_new=True),
    )
}


def with_trait(name: str) -> list[str]:
    """The codes of the kinds that have a trait, e.g. `with_trait("recovers")`."""
    return [kind.code for kind in KINDS.values() if getattr(kind, name)]


def choices() -> list[tuple[str, str]]:
    """(code, label) of every kind, for a form."""
    return [(kind.code, kind.label) for kind in KINDS.values()]


def is_oil(code: str | None) -> bool:
    """Whether a kind is one of oil; not, where there is no such kind."""
    return code in KINDS and KINDS[code].is_oil
