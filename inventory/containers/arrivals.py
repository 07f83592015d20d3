"""What a delivery's voucher says of the containers that it brought."""

from inventory.containers.events import VERBS, read


def arrivals_of(detail: dict) -> list[dict]:
    """What a delivery's voucher says of each container that it brought: what `arrive` says in its event, and what is
    kept besides (of `rows.BESIDES`), where it is known."""
    ops = [op for op in read(detail["event"]).ops if op.verb == "arrive"] if "event" in detail else []
    besides = detail.get("arrivals", {})
    found = []
    for op in ops:
        said = dict(zip(VERBS["arrive"], op.what, strict=True))
        found.append({"container": op.code, **said, **besides.get(op.code, {})})
    return found
