"""Splits the engine's composed texts into parts of a sheet: a title, and lists under their headings; the words stay."""

from dataclasses import dataclass, field


@dataclass(slots=True)
class Told:
    """A composed text: its title, and (heading, lines) in order; a heading without lines is a sentence."""

    title: str
    parts: list[tuple[str, list[str]]] = field(default_factory=list)


def told_in_parts(text: str) -> Told:
    """Return *while you were away* or *before you go* in parts."""
    lines = text.split("\n")
    told = Told(lines[0].removesuffix(":").removesuffix("."))
    for line in lines[1:]:
        if line.startswith("- ") and told.parts:
            told.parts[-1][1].append(line[2:])
        elif line:
            told.parts.append((line.removesuffix(":"), []))
    return told
