"""Recomputes the chain of a bundle's vouchers.jsonl with the standard library alone: `python FILE vouchers.jsonl`."""

import hashlib
import json
import sys
from pathlib import Path

before = None
for line in Path(sys.argv[1]).read_bytes().splitlines():
    voucher = json.loads(line)
    if before not in (None, voucher["previous"]):
        sys.exit(f"a gap before voucher {voucher['number']}")
    made = hashlib.sha256((voucher["previous"] + "\n" + voucher["text"]).encode("utf-8")).hexdigest()
    said = json.loads(voucher["text"])
    if made != voucher["digest"] or said[1] != voucher["number"] or said[2] != voucher["day"]:
        sys.exit(f"voucher {voucher['number']} was changed")
    before = voucher["digest"]
print(before)
