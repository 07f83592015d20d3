"""Makes a valid log of any length: the same seed gives the same files. Everything in it is invented."""

import datetime as dt
import random
from pathlib import Path

PLACES = ("Store", "Cage", "Bay", "Van 1", "Van 2", "Van 3")
OPENED = 60  # containers in use at once; an empty one leaves, a full one comes


def write_log(folder: Path, events: int, seed: int = 1) -> None:
    """Write the CSV files of a shop with about `events` events: jobs by weight, recoveries, moves, counts."""
    rng = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    start = dt.datetime(2020, 1, 6, 8)
    apart = min(37.0, 3_500_000 / max(events, 1))  # minutes: a long log is a busy shop, and ends before today
    files = {
        "shop": ["name,address,timezone,rulebook,readability,capacity", f"Bench {seed},,UTC,generic,1 g,150 kg"],
        "people": ["username,name,role"] + [f"tech{n},Tech {n},technician" for n in range(6)],
        "receipts": ["date,document,supplier,container,kind,substance,net,tare,location"],
        "jobs": ["job,date,technician,customer,unit,vin,substance,charge_min,charge_max"],
        "job_lines": ["job,action,container,before,after,quantity"],
        "moves": ["date,container,to_location,by"],
        "counts": ["date,container,gross,by"],
        "retirements": ["date,container,residue,by"],
    }
    grams, place = {"REC-1": 0}, {}
    files["receipts"].append(f"{start:%Y-%m-%d},R0,Acme,REC-1,recovery,R-134a,0,5000 g,Bay")
    opened: list[str] = []
    for number in range(events):
        when = start + dt.timedelta(minutes=apart * (number + 1))
        stamp = f"{when:%Y-%m-%dT%H:%M}"
        if len(opened) < OPENED:
            code = f"CYL-{number:06d}"
            grams[code] = 11_000
            opened.append(code)
            files["receipts"].append(f"{stamp},R{number},Acme,{code},refillable,R-134a,11 kg,6000 g,Store")
            continue
        code = rng.choice(opened)
        kind = rng.random()
        if kind < 0.08:
            place[code] = rng.choice([name for name in PLACES if name != place.get(code, "Store")])
            files["moves"].append(f"{stamp},{code},{place[code]},tech1")
        elif kind < 0.16:
            grams[code] += rng.choice([-1, 0, 1])
            files["counts"].append(f"{stamp},{code},{6000 + grams[code]} g,tech2")
        else:
            taken = min(rng.randrange(300, 700), grams[code])
            job, before = f"B{number}", 6000 + grams[code]
            files["jobs"].append(
                f"{job},{stamp},tech{number % 6},Customer {number % 150 % 40},PLATE-{number % 150},,R-134a,400 g,600 g"
            )
            files["job_lines"].append(f"{job},charge,{code},{before} g,{before - taken} g,")
            grams[code] -= taken
            if number % 5 == 0:
                files["job_lines"].append(f"{job},line-loss,,,,{min(2, taken)} g")
        if grams[code] < 700:
            opened.remove(code)
            files["retirements"].append(f"{stamp},{code},lost,tech3")
    for name, rows in files.items():
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
