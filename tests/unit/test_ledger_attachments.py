"""What is kept as evidence: photos and papers, told by their first bytes, up to twelve megabytes."""

from __future__ import annotations

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.attachments import checked_media, media_of

PDF = b"%PDF-1.7\n"
END = b"\nstartxref\n0\n%%EOF\n"


@pytest.mark.parametrize(
    ("content", "media"),
    [
        (PDF, "application/pdf"),
        (b"\xff\xd8\xff\xe0..JFIF", "image/jpeg"),
        (b"\x89PNG\r\n\x1a\n....IHDR", "image/png"),
        (b"RIFF\x24\x00\x00\x00WEBPVP8 ", "image/webp"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", None),  # sound in the same container
        (b"XIFF\x24\x00\x00\x00WEBPVP8 ", None),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", "image/heic"),
        (b"\x00\x00\x00\x18ftypheix\x00\x00\x00\x00", "image/heic"),
        (b"\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00", "image/heic"),
        (b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00", None),  # a film in the same container
        (b"\x00\x00\x00\x18ftyqheic\x00\x00\x00\x00", None),
        (b" %PDF-1.7", None),
        (b"", None),
    ],
)
def test_evidence_is_known_by_its_first_bytes(content: bytes, media: str | None) -> None:
    assert media_of(content) == media


def test_evidence_of_twelve_megabytes_is_kept_and_one_byte_more_is_refused_with_both_sizes() -> None:
    most = PDF + b" " * (12 * 1024 * 1024 - len(PDF) - len(END)) + END
    assert checked_media(most) == "application/pdf"
    with pytest.raises(BadInput) as refused:
        checked_media(most + b" ")
    (finding,) = refused.value.findings
    assert (finding.found, finding.required) == ("12.0 MB", "at most 12 MB")
    with pytest.raises(BadInput) as refused:
        checked_media(most + b" " * 1024 * 1024)
    assert refused.value.findings[0].found == "13.0 MB"
