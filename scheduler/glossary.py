"""The words for things on site: one word for one thing, on screen, on paper and on the command line.

The solver's terms, each with its source, stand in `solve/GLOSSARY.md`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Term:
    """A word of ours, what it means, and what is never said in its place."""

    word: str
    meaning: str
    instead_of: tuple[str, ...] = ()
    """Regular expressions of words given up; no sentence of the program has any of them."""


GLOSSARY = (
    Term("alignment", "A line on the ground along which stations are counted, such as the main trench."),
    Term("reach", "The trench between two stations of an alignment, dug and filled in one way."),
    Term("stretch", "Any part of an alignment between two stations."),
    Term("line", "One conduit bank, cable or pipe from its one end to its other."),
    Term("layer", "Lines of a trench that are laid, shaded and filled over together."),
    Term("section", "The trench seen along rising stations, cut across."),
    Term(
        "task",
        "One activity of a plan, such as digging a reach or laying a line.",
        (r"\bpieces? of work\b",),
    ),
    Term(
        "pothole",
        "To find a marked line by hand or vacuum before the machine digs near it.",
        (r"\b[Ee]xpose\b", r"\bstands? exposed\b"),
    ),
    Term("shade", "To place select fill by hand over the lines of a layer."),
    Term("fill", "To put back and compact what lies above the shading."),
    Term("cover", "The soil over the top of a line; to cover a line is to shade it or fill over it."),
    Term("hold point", "A point at which work waits until somebody who may do so has released it."),
    Term("release", "What the person says who may: work may go on past a hold point. Kept with its evidence."),
    Term(
        "inspection",
        "An authority sees the work of one stage, in one or more visits.",
        (r"\b[Ii]nspectors?(?:'s|'|s) looks?\b", r"\b[Aa]n inspector looks$"),
    ),
    Term("visit", "One coming of an inspector: all that is inspected between coming and going."),
    Term("call", "What the contractor tells or asks somebody in time: that they are wanted, when and where."),
    Term("fix", "To make good what failed or what is wrong.", (r"\b[Mm]end(?:s|ed|ing)?\b",)),
    Term("remove", "To strike a record or a field from a file.", (r"\b[Tt]ake (?:it|them) out\b", r"\btaken out\b")),
    Term(
        "will finish",
        "When a plan has all of its work done; 'finished' is said of what is done and on record.",
        (r"\bFinished by\b", r"^finished by$"),
    ),
    Term("holds", "A plan holds while everything on record leaves its dates possible.", (r"\b[Oo]vertaken\b",)),
    Term(
        "open trench, feet × nights",
        "The length of trench that stands open over each night, summed: what is open for three nights counts thrice.",
        (r"\b(?:ft|foot|feet|metres?)[ -]nights?\b",),
    ),
    Term(
        "as early as it can be",
        "The last thing a plan looks for: of all plans alike in finish, open trench and money, the one with its work "
        "soonest.",
        (r"\b[Ee]arly starts\b", r"\baverage start\b"),
    ),
    Term("party", "A trade, an authority or anybody else with work or a visit on site.", (r"\bparties on site\b",)),
)
