"""What somebody does who forges a bundle and knows how it is made: he changes a thing, and makes the rest to match."""

import hashlib
import json
import shutil
import uuid
import zipfile
from pathlib import Path

from inventory.ledger.canonical import canonical_json, chained, genesis, link, record_digest


def sha(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()


class Forged:
    """A bundle, unpacked in a folder."""

    def __init__(self, bundle: Path, folder: Path):
        self.folder = folder
        shutil.rmtree(folder, ignore_errors=True)
        with zipfile.ZipFile(bundle) as archive:
            archive.extractall(folder)

    def names(self) -> list[str]:
        return sorted(one.relative_to(self.folder).as_posix() for one in self.folder.rglob("*") if one.is_file())

    def read(self, name: str) -> bytes:
        return (self.folder / name).read_bytes()

    def write(self, name: str, body: bytes) -> None:
        (self.folder / name).parent.mkdir(exist_ok=True)
        (self.folder / name).write_bytes(body)

    def json(self, name: str) -> dict:
        return json.loads(self.read(name))

    def lines(self, name: str) -> list[dict]:
        return [json.loads(line) for line in self.read(name).splitlines()]

    def put_lines(self, name: str, lines: list[dict]) -> None:
        self.write(name, b"".join(json.dumps(one, ensure_ascii=False).encode() + b"\n" for one in lines))

    def replace(self, name: str, old: str, new: str) -> None:
        text = self.read(name).decode()
        assert old in text, (name, old)
        self.write(name, text.replace(old, new, 1).encode())

    def relist(self, **said: object) -> None:
        """The list of the files, made to match."""
        manifest = self.json("manifest.json") | said
        names = [name for name in self.names() if name not in {"manifest.json", "receipt.json"}]
        manifest["files"] = {name: {"sha256": sha(self.read(name)), "size": len(self.read(name))} for name in names}
        self.write("manifest.json", json.dumps(manifest).encode())

    def enter(self) -> None:
        """The entry that names the list, made to match: the first after the head."""
        manifest = self.json("manifest.json")
        number, key, salt = manifest["head"]["number"] + 1, str(uuid.uuid4()), "0" * 32
        about = canonical_json({name: manifest[name] for name in ("ledger", "from", "to", "head")})
        listed = canonical_json({"manifest": sha(self.read("manifest.json"))})
        records = [["handout", key, "", about], ["words", f"handout:{key}", salt, listed]]
        named = [[kind, of, record_digest(salt, body)] for kind, of, salt, body in records]
        entry = [1, number, manifest["to"], "handout", "2026-05-01T00:00:00.000000Z", "x", "", "", None, key, {}, []]
        text = canonical_json([*entry, named])
        self.write("receipt.json", json.dumps({"links": [], "text": text, "records": records}).encode())

    def rechain(self, ledger: str | None = None) -> None:
        """Links, digests and head, made to match the texts; of entries without a text the links stay."""
        manifest = self.json("manifest.json")
        ledger = ledger or manifest["ledger"]
        old, texts = self.read("links.bin"), {one["number"]: one for one in self.lines("vouchers.jsonl")}
        links, digest = b"", genesis(ledger)
        for number in range(1, len(old) // 32 + 1):
            one, made = texts.get(number), old[32 * number - 32 : 32 * number].hex()
            if one is not None:
                made = link(one["text"])
                one["previous"] = digest
            digest = chained(digest, made)
            links += bytes.fromhex(made)
            if one is not None:
                one["digest"] = digest
        self.write("links.bin", links)
        self.put_lines("vouchers.jsonl", list(texts.values()))
        self.relist(ledger=ledger, head={"number": manifest["head"]["number"], "digest": digest})
        self.enter()

    def pack(self, path: Path) -> Path:
        """A ZIP, with the SHA-256 of itself at its end."""
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for name in self.names():
                archive.write(self.folder / name, name)
            archive.comment = b"0" * 64
        body = path.read_bytes()[:-64]
        path.write_bytes(body + sha(body).encode())
        return path
