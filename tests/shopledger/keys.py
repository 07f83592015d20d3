"""A device that holds passkeys, as the server sees one: keys, counters and answers in the form of WebAuthn, level 3."""

import hashlib
import json
import secrets
from dataclasses import dataclass, field

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from webauthn.helpers import bytes_to_base64url as text
from webauthn.helpers import encode_cbor

UP, UV, BE, BS, AT = 0x01, 0x04, 0x08, 0x10, 0x40  # flags of authenticator data


@dataclass
class Device:
    """One key. origin: where its browser is. verifies: whether it asks who holds it."""

    site: str = "localhost"
    origin: str = "http://localhost"
    verifies: bool = True
    count: int = 0
    credential: bytes = field(default_factory=lambda: secrets.token_bytes(16))
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    handle: str = ""

    def _client(self, kind: str, challenge: str) -> bytes:
        return json.dumps({"type": kind, "challenge": challenge, "origin": self.origin}).encode()

    def _said(self, more: int = 0) -> bytes:
        flags = UP | (UV if self.verifies else 0) | more
        return hashlib.sha256(self.site.encode()).digest() + bytes([flags]) + self.count.to_bytes(4, "big")

    def made(self, asked: dict) -> dict:
        """The answer to being asked for a new key."""
        self.handle = asked["user"]["id"]
        point = self.key.public_key().public_numbers()
        public = {1: 2, 3: -7, -1: 1, -2: point.x.to_bytes(32, "big"), -3: point.y.to_bytes(32, "big")}
        attested = bytes(16) + len(self.credential).to_bytes(2, "big") + self.credential + encode_cbor(public)
        said = {"fmt": "none", "attStmt": {}, "authData": self._said(AT) + attested}
        response = {
            "clientDataJSON": text(self._client("webauthn.create", asked["challenge"])),
            "attestationObject": text(encode_cbor(said)),
            "transports": ["internal"],
        }
        return self._answer(response)

    def signed(self, asked: dict) -> dict:
        """The answer to being asked to sign."""
        self.count += 1
        client, said = self._client("webauthn.get", asked["challenge"]), self._said()
        signature = self.key.sign(said + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        response = {
            "clientDataJSON": text(client),
            "authenticatorData": text(said),
            "signature": text(signature),
            "userHandle": self.handle,
        }
        return self._answer(response)

    def _answer(self, response: dict) -> dict:
        credential = text(self.credential)
        return {"id": credential, "rawId": credential, "type": "public-key", "response": response}
