"""`python -m scheduler.reading`: write the reference and the schemas anew, beside the bundled sites."""

from __future__ import annotations

from scheduler.reading.made import FOLDER, made_files
from scheduler.whole_files import write_whole


def main() -> None:
    """Write every file that is made, and say which of them changed."""
    for name, text in made_files().items():
        file = FOLDER / name
        if not file.is_file() or file.read_text(encoding="utf-8") != text:
            write_whole(file, text)
            print(f"{file.name}: written anew")


if __name__ == "__main__":
    main()
