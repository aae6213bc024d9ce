"""Evidence kept beside the journal by the hash of its content: photos and PDF papers."""

from __future__ import annotations

import io
from dataclasses import dataclass

import pillow_heif
from PIL import Image

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity

MAX_BYTES = 12 * 1024 * 1024
"""A phone's photo at full size fits."""
MOST_PIXELS = 60_000_000
"""A phone's largest usual photo has 50 million. Decoded, this much takes under a quarter of a gigabyte."""
PLAN_MEDIA = "application/json"
FORMATS = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP", "image/heic": "HEIF"}
pillow_heif.register_heif_opener()


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
    """Return the media type of evidence; raises BadInput when it shows nothing.

    It must be a photo that can be decoded to its end, of so many pixels and more than one colour, or a PDF with its
    end, of a fair size.
    """
    if len(content) > MAX_BYTES:
        size = f"{len(content) / 1024 / 1024:.1f} MB"
        raise _refused("is too large", size, f"at most {MAX_BYTES // 1024 // 1024} MB")
    media = media_of(content)
    if media is None:
        raise _refused("cannot be kept as evidence", "something else", "a photo (JPEG, PNG, WebP, HEIC) or a PDF")
    if media == "application/pdf":
        _check_pdf(content)
    else:
        _check_photo(content, FORMATS[media])
    return media


def _check_photo(content: bytes, kind: str) -> None:
    """Decode a photo; raises BadInput for one that is damaged, too large when decoded, or blank."""
    try:
        with Image.open(io.BytesIO(content), formats=(kind,)) as photo:
            pixels = photo.width * photo.height
            if pixels > MOST_PIXELS:  # said in its head, before anything is decoded
                most = f"at most {MOST_PIXELS // 1_000_000} million"
                raise _refused("has too many pixels", f"{pixels / 1_000_000:.0f} million", most)
            photo.draft("RGB", (1024, 1024))  # a JPEG can be decoded at a smaller size
            ranges = photo.convert("RGB").getextrema()
    except BadInput:
        raise
    except Exception as error:  # a decoder may fail in any way on bytes that somebody made up
        what = str(error)[:100] or type(error).__name__
        raise _refused("is a photo that cannot be decoded", what, "a photo as it was taken") from None
    if all(isinstance(r, tuple) and r[0] == r[1] for r in ranges):
        raise _refused("is blank: every pixel has the same colour", "nothing to be seen", "a photo of the work")


def _check_pdf(content: bytes) -> None:
    # ISO 32000-1, 7.5.5: the last lines are the offset of the cross-reference section and the marker of the end.
    tail = content[-2048:]
    if b"%%EOF" not in tail or b"startxref" not in tail:
        raise _refused("is a PDF that was cut off", "no end of file", "the whole paper")


def _refused(text: str, found: str, required: str) -> BadInput:
    return BadInput([Finding("journal/attachment", Severity.STOP, "The attached file", text + ".", found, required)])
