"""The feedstocks that Heaptender knows by itself, from published tables (`known_feedstocks.toml` names them)."""

import tomllib
from functools import cache
from importlib import resources

from monitor.mix.materials import Feedstock, Figure


@cache
def known_feedstocks() -> dict[str, Feedstock]:
    """Return the known feedstocks by name, in the order of the file."""
    text = (resources.files("monitor.mix") / "known_feedstocks.toml").read_text(encoding="utf-8")
    found: dict[str, Feedstock] = {}
    for row in tomllib.loads(text)["feedstock"]:
        figures = {
            what: Figure.known(*((value[1], value[0], value[2]) if isinstance(value, list) else (value,)))
            for what, value in row.items()
            if what not in ("name", "woody", "source")
        }
        found[row["name"]] = Feedstock(name=row["name"], woody=row.get("woody", False), source=row["source"], **figures)
    return found
