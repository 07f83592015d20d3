"""Makes the bill of materials of what runs a shop, in CycloneDX 1.6, which a release carries:

    TOOLS/bin/python .ci/bom.py PYTHON

TOOLS holds cyclonedx-bom (.ci/requirements.txt). PYTHON has what requirements.txt names, for the script that a package
brings to the pages. Written to shopledger/deploy/bom.cdx.json, the same for the same locks: no day, no number of its
own. Ends with 1 where it does not fit the schema, and with 3 where what was there before was of other locks.
"""

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

BILL = Path("shopledger/deploy/bom.cdx.json")
LOCK = "requirements.txt"
# The script of django-htmx that base.html loads: {% htmx_script %} of its version 2. It says its version itself.
ASK = """
import hashlib, json, pathlib, re, django_htmx
from importlib.metadata import version
script = pathlib.Path(django_htmx.__file__).parent / "static/django_htmx/htmx-2.min.js"
written = script.read_bytes()
said = re.search(rb'version:"([0-9.]+)"', written)[1].decode()
print(json.dumps([said, hashlib.sha256(written).hexdigest(), version("django-htmx")]))
"""


def script(version: str, digest: str, carrier: str) -> dict:
    """The component of htmx, which pages load. digest: SHA-256 of its file. carrier: the version of django-htmx that
    brings it along."""
    return {
        "bom-ref": "htmx",
        "type": "library",
        "name": "htmx.org",
        "version": version,
        "description": f"htmx-2.min.js as django-htmx {carrier} carries it",
        "hashes": [{"alg": "SHA-256", "content": digest}],
        "purl": f"pkg:npm/htmx.org@{version}",
    }


def whole(bill: dict, htmx: dict) -> dict:
    """The bill of the lock with the program that it is of, and with the script that one of its packages carries."""
    carrier = next(one["bom-ref"] for one in bill["components"] if one["name"] == "django-htmx")
    named = {"bom-ref": "shopledger", "type": "application", "name": "shopledger"}
    refs = sorted(one["bom-ref"] for one in bill["components"])
    depends = [one for one in bill["dependencies"] if one["ref"] not in {carrier, "htmx"}]
    depends += [{"ref": carrier, "dependsOn": ["htmx"]}, {"ref": "htmx"}, {"ref": "shopledger", "dependsOn": refs}]
    return {
        **bill,
        "metadata": {**bill["metadata"], "component": named},
        "components": [*bill["components"], htmx],
        "dependencies": sorted(depends, key=lambda one: one["ref"]),
    }


def of_the_lock(tools: Path) -> dict:
    made = [tools / "cyclonedx-py", "requirements", LOCK, "--output-reproducible", "--sv", "1.6", "--of", "JSON"]
    return json.loads(subprocess.run(made, check=True, capture_output=True, text=True).stdout)  # noqa: S603


def faults(written: str) -> str:
    """What the schema of CycloneDX says against it; blank where nothing."""
    from cyclonedx.schema import SchemaVersion
    from cyclonedx.validation.json import JsonStrictValidator

    found = JsonStrictValidator(SchemaVersion.V1_6).validate_str(written)
    return "" if found is None else str(found)


def main(python: str) -> int:
    os.chdir(Path(__file__).resolve().parents[1])
    asked = subprocess.run([python, "-c", ASK], check=True, capture_output=True, text=True)  # noqa: S603
    bill = whole(of_the_lock(Path(sys.executable).parent), script(*json.loads(asked.stdout)))
    written = json.dumps(bill, indent=1, sort_keys=True) + "\n"
    wrong = faults(written)
    if wrong:
        print(f"The bill of materials does not fit CycloneDX 1.6: {wrong}", file=sys.stderr)
        return 1
    before = BILL.read_text(encoding="utf-8") if BILL.exists() else ""
    BILL.write_text(written, encoding="utf-8")
    digest = hashlib.sha256(written.encode()).hexdigest()
    print(f"{BILL}: {len(bill['components'])} components, fits CycloneDX 1.6, SHA-256 {digest}")
    if before and before != written:
        print("It was of other locks before: commit what was made now with the locks.", file=sys.stderr)
        return 3
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
