"""Entries are signed: an Ed25519 key (RFC 8032) in the user's own folder, outside the journal, signs their hashes.

The hash of an entry covers every entry before it, so one signature vouches for the whole journal up to there.
Whoever rewrites a journal without the key cannot make its signatures again; whoever has the public key sees that.
"""

from __future__ import annotations

import base64
import os
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from scheduler.ledger.connecting import put_in_place, unusable
from scheduler.ledger.folders import key_folder

NAME = "signing-key.pem"
PREFIX = "jt-key:"
"""How a public key begins as text."""


@dataclass(frozen=True, slots=True)
class Key:
    """A private key, and its public one as text."""

    private: Ed25519PrivateKey
    public: str

    def sign(self, chain: str, number: int, digest: str) -> str:
        """Return the signature of an entry, as text."""
        return base64.b64encode(self.private.sign(statement(chain, number, digest))).decode()


def own_signer() -> Key:
    """Return the key of this user, made on first use; raises BadInput when it can be neither read nor made."""
    return _key(key_folder() / NAME)


def is_signed(public: str, signature: str, chain: str, number: int, digest: str) -> bool:
    """Tell whether a signature is that of an entry by a public key, both as text."""
    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(public.removeprefix(PREFIX), validate=True))
        key.verify(base64.b64decode(signature, validate=True), statement(chain, number, digest))
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def checked_public(text: str) -> str:
    """Return a public key that somebody typed or pasted; raises BadInput when it is none."""
    text = text.strip()
    try:
        if not text.startswith(PREFIX):
            raise ValueError(text)
        Ed25519PublicKey.from_public_bytes(base64.b64decode(text.removeprefix(PREFIX), validate=True))
    except ValueError:
        words = f"is no public key as `jointtrench journal SITE key` prints it: {PREFIX} and 44 letters"
        raise unusable("journal/key", f"'{text[:60]}'", words) from None
    return text


def statement(chain: str, number: int, digest: str) -> bytes:
    """Return what is signed, and stamped by others, of an entry: its chain, its number and its hash, in four lines."""
    return f"jointtrench journal entry\n{chain}\n{number}\n{digest}\n".encode()


@lru_cache(maxsize=8)
def _key(path: Path) -> Key:
    try:
        if not path.exists():
            _make(path)
        private = load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError) as error:
        words = f"cannot be read or made ({error}); entries are signed with it, so nothing is written without it"
        raise unusable("journal/key", str(path), words) from error
    if not isinstance(private, Ed25519PrivateKey):
        raise unusable("journal/key", str(path), "is no Ed25519 key")
    public = private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    return Key(private, PREFIX + base64.b64encode(public).decode())


def _make(path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    text = Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    aside = path.with_name(f".{path.name}.{os.getpid()}")
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        put_in_place(aside, path)
    finally:
        aside.unlink(missing_ok=True)
