"""The verb of what got out of a container by accident: one voucher, in one transaction, or nothing."""

from inventory.containers.actions import record
from inventory.containers.holdings import Weighed
from inventory.containers.placing import EntryHead
from inventory.containers.recorder import Recorder
from inventory.containers.write_off import asks_second, two_agree
from inventory.releases.causes import ALL, CAUSES, ESTIMATED, OTHER, WEIGHED
from inventory.text.refusal import Refused


@asks_second
def release(
    *,
    code: str,
    cause: str,
    before: int | None = None,
    after: int | None = None,
    quantity: int | None = None,
    scale: str = "",
    **head: object,
) -> int:
    """What got into the air goes to other loss; returns the voucher's number.

    cause: of CAUSES. after: what the container weighs now, mg, on the scale of this code (blank: the usual one).
    before: what it weighed before, where that is known; else the book tells what was in it. quantity: as it is
    estimated, mg (oil: uL), and the note says how. None of these: all that is in it by the book. head: as in
    `containers/actions.py`.
    Raises Refused, and NeedsYes: what is lost so is written off as well.
    """
    entry = EntryHead("release", **head)
    weighed = Weighed(before, after, quantity)
    _check(cause, weighed, entry.note)
    how = WEIGHED if weighed.on_scale else ALL if quantity is None else ESTIMATED

    def run(recorder: Recorder) -> dict:
        seen = recorder.scale(scale) if weighed.on_scale else None
        lost = recorder.holdings.lose(code, Weighed(before, after, quantity, seen))
        two_agree(recorder, entry)
        return {"detail": {"cause": cause, "how": how, "containers": {code: lost}}}

    return record(entry, run, [code])


def _check(cause: str, weighed: Weighed, note: str) -> None:
    if cause not in CAUSES:
        raise Refused(f"{cause[:60]!r} is no cause; choose one of {', '.join(CAUSES.values())}.", "cause")
    if weighed.quantity is not None and weighed.on_scale:
        raise Refused("Give the weights or the quantity, not both.", "quantity")
    if weighed.before is not None and weighed.after is None:
        raise Refused(
            "Say what it weighs now as well; the weight before alone does not tell how much got out.", "after"
        )
    if not note.strip() and weighed.quantity is not None:
        raise Refused("Say how it was estimated, e.g. by the length of the hose or the time it blew.", "note")
    if not note.strip() and cause == OTHER:
        raise Refused("Say what happened; none of the causes in the list does.", "note")
