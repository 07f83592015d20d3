"""What a sheet comes to, in sentences: said before it is posted, and after. Pure."""

from collections import defaultdict

from inventory.measures.quantity import parse_mass, parse_volume, show
from inventory.reference.kinds import is_oil
from shopledger.sheet_meaning.plan import Plan

COUNTED = {
    "people.csv": ("person or certificate", "people or certificates"),
    "units": ("unit", "units"),
    "counts.csv": ("container weighed", "containers weighed"),
    "jobs.csv": ("job", "jobs"),
}
DONE = {"charge": "charged", "recover": "recovered", "oil-add": "oil added"}


def comes_to(plan: Plan) -> list[str]:
    """One sentence for each thing that is posted: how many, and how much of each substance."""
    files, said = plan.built.files, []
    for name, (one, many) in COUNTED.items():
        if count := len(files.get(name, ())):
            said.append(f"{count} {one if count == 1 else many}")
    said += _arriving(plan)
    amounts: dict[tuple[str, str], int] = defaultdict(int)
    gases = {row["job"]: row["substance"] for row in files.get("jobs.csv", ())}
    for row in files.get("job_lines.csv", ()):
        oil = row["action"] == "oil-add"
        amount = _read(row["quantity"], oil) if row["quantity"] else _read(row["before"]) - _read(row["after"])
        amounts["" if oil else gases.get(row["job"], ""), row["action"]] += amount
    for (gas, action), amount in sorted(amounts.items()):
        said.append(f"{gas} {DONE[action]}: {show(amount, 'mL' if action == 'oil-add' else 'g')}".strip())
    return said


def _arriving(plan: Plan) -> list[str]:
    totals: dict[tuple[str, bool], list[int]] = {}
    for name in ("opening.csv", "receipts.csv"):
        for row in plan.built.files.get(name, ()):
            oil = is_oil(row["kind"])
            total = totals.setdefault((row["substance"], oil), [0, 0])
            total[0] += 1
            total[1] += _read(row["net"], oil)
    return [
        f"{substance}: {count} container{'' if count == 1 else 's'} with {show(amount, 'mL' if oil else 'g')} in all"
        for (substance, oil), (count, amount) in sorted(totals.items())
    ]


def _read(text: str, oil: bool = False) -> int:
    return (parse_volume if oil else parse_mass)(text) if text else 0
