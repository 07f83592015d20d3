"""What the rulebook said of a job when it was signed. Pure: no Django here.

It is kept with the job, opened, and not worked out anew: certificates, history and rulebook go on, and a sheet that was
handed out says the same when it is printed again.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from inventory.verdicts.explaining import Explained, explained, revived
from inventory.verdicts.verdict import Verdict
from jobs.signing.objections import Objection

ABOUT = "about"
CERTIFICATE = "certificate"  # about the certificate that it was signed under


@dataclass
class Judged:
    """objections: by their keys; certificate: what allowed the work; others: of the job itself."""

    objections: dict[str, list[Explained]] = field(default_factory=dict)
    certificate: list[Explained] = field(default_factory=list)
    others: list[Explained] = field(default_factory=list)


def kept(found: Sequence[Objection], certificate: Iterable[Verdict], others: Iterable[Verdict]) -> list[dict]:
    """What a job keeps. found: the objections that were answered with a reason."""
    said = [(one.key, one.verdict) for one in found if one.verdict is not None]
    said += [(CERTIFICATE, one) for one in certificate]
    said += [("", one) for one in others]
    return [{ABOUT: about, **explained(one).kept} for about, one in said]


def judged(verdicts: Iterable[Mapping[str, object]]) -> Judged:
    """What a job kept, as it is shown."""
    found = Judged()
    for one in verdicts:
        about = one[ABOUT]
        opened = revived({name: value for name, value in one.items() if name != ABOUT})
        if about == CERTIFICATE:
            found.certificate.append(opened)
        elif about:
            found.objections.setdefault(about, []).append(opened)
        else:
            found.others.append(opened)
    return found
