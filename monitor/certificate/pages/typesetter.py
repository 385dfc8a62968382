"""Sets one folder's `main.typ` to `out.pdf`; run as a child, so that its memory goes back and a fault stays its own.

Usage: typesetter.py FOLDER [TYPEFACE]; the second is the folder of the typeface's files. It imports nothing of the program.
"""

import sys
from pathlib import Path


def main(folder: Path, typefaces: list[str]) -> int:
    """Set the pages in typefaces from the given folders; return 0, or 1 with the reason on stderr."""
    import typst  # noqa: PLC0415

    try:
        pdf = typst.compile(
            str(folder / "main.typ"),
            root=str(folder),
            font_paths=typefaces,
            ignore_system_fonts=True,
            pdf_standards=["a-3b"],
            package_path=str(folder / "none"),
            package_cache_path=str(folder / "none"),
        )
    except Exception as fault:  # noqa: BLE001 - typst raises kinds of its own
        print(fault, file=sys.stderr)
        return 1
    (folder / "out.pdf").write_bytes(pdf)
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
