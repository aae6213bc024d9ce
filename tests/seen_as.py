"""Colours as people see them who lack one kind of cone, and how far colours stand apart.

The three matrices are those of full severity of Machado, Oliveira and Fernandes, "A Physiologically-based Model for
Simulation of Color Vision Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (6), 2009, for
linear RGB. Contrast and relative luminance are those of WCAG 2.1; distances are CIE 1976 in L*a*b* under D65.
"""

from __future__ import annotations

Rgb = tuple[float, float, float]
"""Red, green and blue from 0 to 1, linear."""

BLINDNESS: dict[str, tuple[Rgb, Rgb, Rgb]] = {
    "none": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
_WHITE = (0.95047, 1.0, 1.08883)


def linear(colour: str) -> Rgb:
    """Return a colour such as #1f6fd0 as linear RGB."""
    parts = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return red, green, blue


def seen(colour: str, kind: str) -> Rgb:
    """Return a colour as it is seen with one kind of colour blindness."""
    rgb = linear(colour)
    mixed = (sum(f * c for f, c in zip(row, rgb, strict=True)) for row in BLINDNESS[kind])
    red, green, blue = (min(1.0, max(0.0, value)) for value in mixed)
    return red, green, blue


def luminance(rgb: Rgb) -> float:
    """Return the relative luminance of a colour."""
    return 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]


def contrast(one: Rgb, other: Rgb) -> float:
    """Return the contrast of two colours, from 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def distance(one: Rgb, other: Rgb) -> float:
    """Return how far apart two colours look: about 2 can just be told, 10 at a glance."""
    first, second = _lab(one), _lab(other)
    return float(sum((a - b) ** 2 for a, b in zip(first, second, strict=True)) ** 0.5)


def _lab(rgb: Rgb) -> tuple[float, float, float]:
    r, g, b = rgb
    x = 0.4124564 * r + 0.3575761 * g + 0.1804375 * b
    y = 0.2126729 * r + 0.7151522 * g + 0.0721750 * b
    z = 0.0193339 * r + 0.1191920 * g + 0.9503041 * b
    fx, fy, fz = (
        (t ** (1 / 3) if t > 216 / 24389 else (24389 / 27 * t + 16) / 116)
        for t in (value / white for value, white in zip((x, y, z), _WHITE, strict=True))
    )
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)
