"""Evidence kept beside the journal by the hash of its content: photos and PDF papers."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity

MAX_BYTES = 12 * 1024 * 1024
"""A phone's photo at full size fits."""
PLAN_MEDIA = "application/json"


@dataclass(frozen=True, slots=True)
class Attachment:
    """Content with its media type."""

    hash: str
    media: str
    content: bytes


def media_of(content: bytes) -> str | None:
    """Return the media type of a photo or PDF by its first bytes, whatever its name says; None for anything else.

    The signatures are those of ISO 32000 (PDF), ISO/IEC 10918 (JPEG), the W3C PNG
    recommendation, the RIFF container of WebP and ISO/IEC 23008-12 (HEIF).
    """
    if content.startswith(b"%PDF-"):
        return "application/pdf"
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    if content[4:8] == b"ftyp" and content[8:12] in (b"heic", b"heix", b"mif1"):
        return "image/heic"
    return None


def checked_media(content: bytes) -> str:
    """Return the media type of evidence; raises BadInput when it is too large or neither photo nor PDF."""
    if len(content) > MAX_BYTES:
        size = f"{len(content) / 1024 / 1024:.1f} MB"
        raise _refused("is too large", size, f"at most {MAX_BYTES // 1024 // 1024} MB")
    media = media_of(content)
    if media is None:
        raise _refused("cannot be kept as evidence", "something else", "a photo (JPEG, PNG, WebP, HEIC) or a PDF")
    return media


def _refused(text: str, found: str, required: str) -> BadInput:
    return BadInput([Finding("journal/attachment", Severity.STOP, "The attached file", text + ".", found, required)])
