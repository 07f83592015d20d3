"""Says what an update of the locks changes, before somebody installs it:

    python .ci/changes.py [REVISION] [--audit PIP_AUDIT]

Each lock as it is now against the one of REVISION (of git; HEAD where none is named): versions from and to, what is new
and who asks for it, what is gone, for which machines. Where other files stand under a version that was pinned already,
that is an alarm, and it ends with 1: what is pinned does not change, somebody put something else in its place.
PIP_AUDIT is the program pip-audit, which looks up weaknesses of both; where it reaches no list, that is said.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

LOCKS = ("requirements.txt", "tests/requirements.txt", ".ci/requirements.txt")
ALARM = "ALARM"
_PIN = re.compile(r"^([A-Za-z0-9][\w.-]*)(?:\[[^]]*\])?==([^ ;\\]+)(?: ; ([^\\]+?))? ?\\?$")
_HASH = re.compile(r"--hash=([a-z0-9]+:[0-9a-f]+)")
_VIA = re.compile(r"^    #(?: via|  ) +(?!via$)(.+)$")


@dataclass(frozen=True)
class Pin:
    """One version of a package in a lock. where: the marker that says for which machines, blank for all."""

    version: str
    where: str
    hashes: frozenset[str]
    via: tuple[str, ...]


def pins(lock: str) -> dict[str, tuple[Pin, ...]]:
    """All that a lock pins, by the name of the package; some have a version for some machines each."""
    found: dict[str, list[dict]] = {}
    for line in lock.splitlines():
        if match := _PIN.match(line):
            name = re.sub(r"[-_.]+", "-", match[1]).lower()
            found.setdefault(name, []).append(
                {"version": match[2], "where": match[3] or "", "hashes": set(), "via": []}
            )
            last = found[name][-1]
        elif match := _HASH.search(line):
            last["hashes"].add(match[1])
        elif match := _VIA.match(line):
            last["via"].append(match[1])
    return {
        name: tuple(Pin(one["version"], one["where"], frozenset(one["hashes"]), tuple(one["via"])) for one in versions)
        for name, versions in found.items()
    }


def changes(old: Mapping[str, tuple[Pin, ...]], new: Mapping[str, tuple[Pin, ...]]) -> list[str]:
    """One sentence for each thing that differs, by the name of the package."""
    said: list[str] = []
    for name in sorted({*old, *new}):
        before, after = old.get(name, ()), new.get(name, ())
        if not before:
            said.append(f"{name} {_versions(after)} is new, asked for by {_askers(after)}.")
        elif not after:
            said.append(f"{name} {_versions(before)} is gone; {_askers(before)} asked for it.")
        else:
            said += _changed(name, before, after)
    return said


def _changed(name: str, before: tuple[Pin, ...], after: tuple[Pin, ...]) -> Iterable[str]:
    if _versions(before) != _versions(after):
        yield f"{name} goes from {_versions(before)} to {_versions(after)}."
    elif [one.where for one in before] != [one.where for one in after]:
        machines = f"{_machines(before)} before, {_machines(after)} now"
        yield f"{name} {_versions(after)} is for other machines now: {machines}."
    old, new = _hashes(before), _hashes(after)
    for version in sorted({*old, *new}):
        if version in old and version in new and old[version] != new[version]:
            added, gone = len(new[version] - old[version]), len(old[version] - new[version])
            yield (
                f"{ALARM}: {name} {version} was pinned already, and its files are others now: {added} digests are new, "
                f"{gone} are gone. Find out why before anything of it is installed."
            )


def _hashes(versions: tuple[Pin, ...]) -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for one in versions:
        found[one.version] = found.get(one.version, frozenset()) | one.hashes
    return found


def _versions(versions: tuple[Pin, ...]) -> str:
    return " and ".join(dict.fromkeys(one.version for one in versions))


def _machines(versions: tuple[Pin, ...]) -> str:
    return " and ".join(one.where or "all" for one in versions)


def _askers(versions: tuple[Pin, ...]) -> str:
    return ", ".join(dict.fromkeys(asker for one in versions for asker in one.via)) or "nobody that it names"


def weaknesses(found: Mapping) -> tuple[set[tuple[str, str, str]], int] | None:
    """What pip-audit says: (package, version, id) of each weakness, and how many packages it could not look up. None
    where that was all of them: the list was not reached."""
    packages = found["dependencies"]
    looked_up = [one for one in packages if "skip_reason" not in one]
    if packages and not looked_up:
        return None
    known = {(one["name"], one["version"], weak["id"]) for one in looked_up for weak in one["vulns"]}
    return known, len(packages) - len(looked_up)


def weakened(old: set[tuple[str, str, str]], new: set[tuple[str, str, str]]) -> list[str]:
    """One sentence for each weakness that an update brings, keeps or takes away."""
    before, after = ({(name, weak): version for name, version, weak in one} for one in (old, new))
    said = []
    for name, weak in sorted({*before, *after}):
        if (name, weak) not in before:
            said.append(f"NEW WEAKNESS: {weak} of {name} {after[name, weak]}.")
        elif (name, weak) not in after:
            said.append(f"Closed: {weak} of {name} {before[name, weak]}.")
        else:
            said.append(f"Still open: {weak} of {name} {after[name, weak]}.")
    return said


# What asks git and the list of weaknesses


def at(revision: str, lock: str) -> str:
    """The lock as it was; blank where there was none. Raises SystemExit for a revision that git does not know."""
    git = ["git", "rev-parse", "--quiet", "--verify", f"{revision}^{{commit}}"]
    if subprocess.run(git, capture_output=True).returncode:  # noqa: S603 (our own command)
        print(f"git knows no revision {revision!r}; name a commit, a tag or a branch.", file=sys.stderr)
        raise SystemExit(2)
    shown = subprocess.run(["git", "show", f"{revision}:{lock}"], capture_output=True, text=True)  # noqa: S603, S607
    return shown.stdout if shown.returncode == 0 else ""


def audited(program: str, lock: str) -> tuple[set[tuple[str, str, str]], int] | None:
    """The weaknesses of what a lock pins; None where the list was not reached."""
    if not pins(lock):
        return set(), 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "requirements.txt"
        path.write_text(lock, encoding="utf-8")
        asked = [program, "-r", path, "--no-deps", "--disable-pip", "-f", "json"]
        answer = subprocess.run(asked, capture_output=True, text=True)  # noqa: S603 (our own command)
    try:
        return weaknesses(json.loads(answer.stdout))
    except ValueError:
        return None


def _audit(program: str, old: str, new: str) -> list[str]:
    before, after = audited(program, old), audited(program, new)
    if before is None or after is None:
        return ["The list of weaknesses was not reached; nothing was looked up."]
    skipped = before[1] + after[1]
    said = weakened(before[0], after[0]) or ["No weakness is known, before or now."]
    return said + ([f"{skipped} packages could not be looked up."] if skipped else [])


def main(said: argparse.Namespace) -> int:
    os.chdir(Path(__file__).resolve().parents[1])
    alarmed = False
    for lock in LOCKS:
        old, new = at(said.revision, lock), Path(lock).read_text(encoding="utf-8")
        found = changes(pins(old), pins(new))
        alarmed = alarmed or any(one.startswith(ALARM) for one in found)
        print(f"{lock} against {said.revision}:", *(found or ["nothing differs."]), sep="\n  ")
        if said.audit and found:
            print(*(f"  {one}" for one in _audit(said.audit, old, new)), sep="\n")
    return int(alarmed)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("revision", nargs="?", default="HEAD")
    parser.add_argument("--audit", metavar="PIP_AUDIT")
    sys.exit(main(parser.parse_args()))
