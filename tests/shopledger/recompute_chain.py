"""Recomputes the chain of an unpacked bundle with the standard library alone: `python FILE FOLDER`."""

import hashlib
import json
import sys
from pathlib import Path


def sha(text):
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


folder = Path(sys.argv[1])
manifest = json.loads((folder / "manifest.json").read_text("utf-8"))
links = (folder / "links.bin").read_bytes()
chain = [sha("shopledger " + manifest["ledger"])]
for start in range(0, len(links), 32):
    chain.append(sha(f"{chain[-1]}\n{links[start : start + 32].hex()}"))
if (len(chain) - 1, chain[-1]) != (manifest["head"]["number"], manifest["head"]["digest"]):
    sys.exit("the chain does not lead to the head")
for line in (folder / "vouchers.jsonl").read_text("utf-8").splitlines():
    voucher = json.loads(line)
    number, said = voucher["number"], json.loads(voucher["text"])
    made = sha(f"{chain[number - 1]}\n{sha(voucher['text'])}")
    if not made == voucher["digest"] == chain[number] or said[1] != number or said[2] != voucher["day"]:
        sys.exit(f"voucher {number} was changed")
print(chain[-1])
