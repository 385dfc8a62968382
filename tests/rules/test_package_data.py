"""What the program reads beside its source is packed with it: templates, styles, scripts, rules, pages to be set."""

import tomllib

from source import ROOT


def packed():
    """Return the files that are packed beside the source: those that a pattern of some package matches."""
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    data = pyproject["tool"]["setuptools"]["package-data"]
    folders = [ROOT / "monitor", *(path for path in (ROOT / "monitor").rglob("*") if path.is_dir())]
    for folder in folders:
        for pattern in data["*"] + data.get(".".join(folder.relative_to(ROOT).parts), []):
            yield from folder.glob(pattern)


def test_every_file_beside_the_source_is_packed():
    files = {path for path in (ROOT / "monitor").rglob("*") if path.is_file() and path.suffix not in (".py", ".pyc")}
    left_out = sorted(path.relative_to(ROOT).as_posix() for path in files - set(packed()))
    assert files
    assert left_out == [], "name them under [tool.setuptools.package-data]"
