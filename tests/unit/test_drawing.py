"""The drawing of the packages in DEVELOPERS.md says what the imports are."""

import re
from pathlib import Path

import grimp

ROOT = Path(__file__).parents[2]
HEADING = "## The packages and what each imports"


def part_of(module: str) -> str:
    """Return the part of the project a module belongs to: `app`, or a package or file right below `scheduler`."""
    steps = module.split(".")
    return steps[1] if steps[0] == "scheduler" and len(steps) > 1 else steps[0]


def imports() -> dict[str, set[str]]:
    """Return, for each part, the other parts it imports."""
    graph = grimp.build_graph("scheduler", "app")
    found: dict[str, set[str]] = {part_of(m): set() for m in graph.modules}
    for module in graph.modules:
        for imported in graph.find_modules_directly_imported_by(module):
            if part_of(imported) != part_of(module):
                found[part_of(module)].add(part_of(imported))
    return found


def drawn() -> dict[str, set[str]]:
    """Return the same as DEVELOPERS.md draws it: a line a part, `part <- what it imports`."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    block = re.search(re.escape(HEADING) + r".*?```text\n(.+?)\n```", text, re.DOTALL)
    assert block, f"DEVELOPERS.md has no drawing under '{HEADING}'"
    rows: dict[str, set[str]] = {}
    for line in block[1].splitlines():
        if "<-" in line:
            part, _, names = line.partition("<-")
            rows[part.strip()] = set(names.split())
        elif line.strip():
            rows[list(rows)[-1]] |= set(line.split())
    return rows


def test_the_drawing_shows_the_imports() -> None:
    assert drawn() == imports()


def test_no_part_imports_in_a_circle() -> None:
    """Each part stands above all that it imports, so the drawing can be read from the bottom up."""
    left = imports()
    while left:
        free = [part for part, names in left.items() if not names & left.keys()]
        assert free, f"these import one another in a circle: {sorted(left)}"
        for part in free:
            del left[part]
