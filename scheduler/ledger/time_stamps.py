"""Time stamps (RFC 3161): a third party signs that an entry, and all before it, stood in the journal at a moment.

The authority sees a digest only, never the entry. The token is a file of its own, outside the journal, for the user to
keep elsewhere: whoever rewrites the journal and signs it anew cannot make it again. Nothing is written to the journal.
"""

from __future__ import annotations

import hashlib
import http.client
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit
from urllib.request import HTTPRedirectHandler, ProxyHandler, Request, build_opener

from cryptography.x509 import Certificate, ObjectIdentifier, load_pem_x509_certificates

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.connecting import unusable
from scheduler.ledger.heads import Head, head_of
from scheduler.ledger.signing import statement
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.verify import verify
from scheduler.spoken import typed
from scheduler.whole_files import write_new

if TYPE_CHECKING:
    from rfc3161_client import TimeStampResponse

ENDING = ".tsr"
ANSWER_SECONDS = 20.0
"""How long an authority may be silent."""
MOST_BYTES = 1_000_000
"""More than any token has; what is longer is none."""
_HERE = ("localhost", "127.0.0.1", "::1")
_SHA256 = ObjectIdentifier("2.16.840.1.101.3.4.2.1")


@dataclass(frozen=True, slots=True)
class TimeStamp:
    """A token: the entry that it is of, the moment (UTC) that it names, and its file."""

    path: Path
    head: Head
    moment: datetime


def stamp_journal(journal: Journal, authority: str, to: Path, *, name: str) -> TimeStamp:
    """Get a token over the last entry from the authority at a URL, and write it into a folder, or a new file.

    In a folder its name begins with `name`. Raises BadInput, and leaves no file, when the journal does not verify or
    holds no entry, the file is there already, the authority cannot be reached or refuses, or its answer is no token
    for this entry. Who signed the token is not looked at here: that takes the authority's certificate.
    """
    found = verify(journal)
    if found:
        raise BadInput(found)
    entries = journal.entries()
    head = head_of(entries)
    if head is None:
        raise unusable("stamp/empty", journal.where, "holds no entry yet, so there is nothing to stamp")
    path = to / f"{name}-entry-{head.number}-{head.code}{ENDING}" if to.is_dir() else to
    if path.exists() or not path.parent.is_dir():
        words = "is there already; a token never replaces a file" if path.exists() else "is in no folder that is there"
        raise unusable("stamp/out", str(path), words)
    client, said = _client(), _said(journal.site, entries[-1])
    request = client.TimestampRequestBuilder(data=said, hash_algorithm=client.HashAlgorithm.SHA256).build()
    token = _posted(authority, request.as_bytes())
    try:
        response = client.decode_timestamp_response(token)
        if response.status != client.PKIStatus.GRANTED:
            why = "; ".join(response.status_string) or f"status {response.status}"
            raise unusable("stamp/refused", authority, f"gives no time stamp: {why}")
        fits = _is_of(response, said) and response.tst_info.nonce == request.nonce
        moment = response.tst_info.gen_time
    except ValueError as error:
        words = f"sent no time-stamp token that can be read ({_short(error)})"
        raise unusable("stamp/answer", authority, words) from None
    if not fits:
        raise unusable("stamp/answer", authority, "sent a time stamp that is not the answer to what was asked")
    try:
        write_new(path, token)
    except OSError as error:
        raise unusable("stamp/out", str(path), f"cannot be written: {error}") from error
    return TimeStamp(path, head, moment)


def check_stamps(
    paths: Sequence[Path], certificate: Path, chain: str, entries: Sequence[Entry]
) -> tuple[list[TimeStamp], list[Finding]]:
    """Check tokens against the entries of a chain; returns those that prove something, and what is wrong with others.

    The certificate file (PEM) is taken on trust: it holds the root certificate of the authority, and any between the
    root and the authority's own that the token does not carry. Raises BadInput for a file that is not what it should
    be.
    """
    client = _client()
    roots = _certificates(certificate)
    sound, found = [], []
    for path in paths:
        try:
            response = client.decode_timestamp_response(_read(path))
            imprint, moment = response.tst_info.message_imprint, response.tst_info.gen_time
        except ValueError as error:
            raise unusable("stamp/file", str(path), f"is no time-stamp token ({_short(error)})") from None
        try:
            client.VerifierBuilder(roots=list(roots)).build().verify(response, imprint.message)
        except (client.VerificationError, ValueError) as error:
            words = f"is not signed by an authority that {certificate.name} vouches for ({_short(error)})."
            remedy = (
                "Name the root certificate of the authority that was asked; if it is that one, the token is forged."
            )
            found.append(Finding("stamp/authority", Severity.STOP, str(path), words, remedy=remedy))
            continue
        entry = next((e for e in entries if _is_of(response, _said(chain, e))), None)
        head = head_of([entry]) if entry else None
        if head is None:
            words = f"stamps no entry of this journal (its moment: {typed(moment)} UTC)."
            remedy = (
                "Either it is of another job's journal, or the entry that it is of, or one before that, was rewritten "
                "or cut off since: keep the journal as it is, and compare it with the last good backup."
            )
            found.append(Finding("stamp/entry", Severity.STOP, str(path), words, remedy=remedy))
        else:
            sound.append(TimeStamp(path, head, moment))
    return sound, found


def _said(chain: str, entry: Entry) -> bytes:
    return statement(chain, entry.number, entry.hash)


def _is_of(response: TimeStampResponse, said: bytes) -> bool:
    imprint = response.tst_info.message_imprint
    return imprint.hash_algorithm == _SHA256 and imprint.message == hashlib.sha256(said).digest()


def _client() -> ModuleType:
    try:
        import rfc3161_client
    except ImportError:
        words = "need one more package: pip install -e '.[stamp]' (or pip install rfc3161-client)"
        raise unusable("stamp/package", "Time stamps", words) from None
    return rfc3161_client


def _short(error: Exception) -> str:
    """Return the first words of what the library says, which goes on for lines about its own insides."""
    return str(error).split(": ErrorStack", 1)[0][:120]


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(MOST_BYTES)
    except OSError as error:
        raise unusable("stamp/file", str(path), f"cannot be read: {error.strerror or error}") from None


def _certificates(path: Path) -> list[Certificate]:
    try:
        return load_pem_x509_certificates(_read(path))
    except ValueError:
        raise unusable("stamp/certificate", str(path), "holds no certificate in PEM form") from None


class _StayThere(HTTPRedirectHandler):
    """Follows nobody elsewhere: what was checked of the address holds for the address that was named."""

    def redirect_request(self, *_: Any) -> None:
        """Return no other request, so that the answer is an error."""


def _posted(url: str, body: bytes) -> bytes:
    """Send a request to an authority and return its answer; raises BadInput in words for all that can go wrong."""
    try:
        parts = urlsplit(url)
        host, _ = parts.hostname, parts.port
    except ValueError:
        parts, host = urlsplit(""), None
    local = host in _HERE
    if not host or not (parts.scheme == "https" or (local and parts.scheme == "http")):
        words = "is no address of a time-stamp authority: it begins with https:// (http:// for this machine only)"
        raise unusable("stamp/authority", f"'{url}'", words)
    opener = build_opener(_StayThere, *([ProxyHandler({})] if local else []))
    asked = Request(url, body, {"Content-Type": "application/timestamp-query", "Accept": "application/timestamp-reply"})
    try:
        with opener.open(asked, timeout=ANSWER_SECONDS) as response:
            answer: bytes = response.read(MOST_BYTES + 1)
    except HTTPError as error:
        error.close()
        raise unusable("stamp/authority", url, f"answered '{error.code} {error.reason}', and no time stamp") from None
    except (URLError, OSError, http.client.HTTPException, ValueError) as error:
        why = error.reason if isinstance(error, URLError) else error
        words = f"cannot be reached ({why or type(error).__name__}); ask again later, or another authority"
        raise unusable("stamp/authority", url, words) from None
    if len(answer) > MOST_BYTES:
        raise unusable("stamp/answer", url, f"sent more than {MOST_BYTES} bytes, which is no time-stamp token")
    return answer
