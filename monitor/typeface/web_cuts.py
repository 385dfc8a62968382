"""Cuts of the typeface for browsers: three of them, with the letters that people here write, compressed.

Letters beyond these (Greek, Cyrillic) are shown in the reader's own serif, letter by letter.
"""

from dataclasses import dataclass
from importlib import metadata
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path

from monitor.drawing import FAMILY
from monitor.typeface.family import FALLBACKS, family_version

RECIPE = 1
"""Raise it when the cuts change without another version of anything."""
OPTICAL_SIZE = 14
"""The size, points, for which the letters are drawn: those of running text."""
_SIGNS = "–—‘’‚“”„•…′″€→←↑↓−×÷≈≤≥"
LATIN = "ĀāĂăĄąĆćČčĎďĐđĒēĘęĚěĞğĢģĪīĮįİıĶķĹĺĻļĽľŁłŃńŅņŇňŌōŐőŒœŔŕŘřŚśŞşŠšŢţŤťŪūŮůŰűŲųŹźŻżŽžȘșȚț"
"""Further letters of the languages of Europe, for names."""
COMMON = "".join(map(chr, (*range(0x20, 0x7F), *range(0xA0, 0x100)))) + _SIGNS
"""The letters that every cut has: ASCII, Latin-1 and some signs."""
_FEATURES = ["kern", "lnum", "tnum", "ccmp", "locl", "mark"]


@dataclass(frozen=True, slots=True)
class Cut:
    """A cut: its name, its weight (400 is regular) and whether it is the italic."""

    name: str
    weight: int
    italic: bool = False

    @property
    def letters(self) -> str:
        """The letters that it has: the italic is for a line here and there, not for names."""
        return COMMON if self.italic else COMMON + LATIN

    def source(self, folder: Path) -> Path:
        """Return its file among those of the typeface."""
        return folder / f"{FAMILY}{'-Italic' if self.italic else ''}[opsz,wght].ttf"


CUTS = (Cut("regular", 400), Cut("bold", 600), Cut("italic", 400, italic=True))


def can_cut() -> bool:
    """Return whether the library that cuts, and the one that compresses, are installed."""
    return find_spec("fontTools") is not None and find_spec("brotli") is not None


def recipe() -> str:
    """Return the name of what the cuts are made of and how; "" if they cannot be made here."""
    if not family_version() or not can_cut():
        return ""
    return f"{RECIPE}-{family_version()}-{metadata.version('fonttools')}-{metadata.version('brotli')}"


def make_cut(cut: Cut, folder: Path) -> bytes:
    """Return a cut as WOFF2 (https://www.w3.org/TR/WOFF2/), the same bytes for the same versions.

    Args:
        cut: Which one.
        folder: The folder of the typeface's files.
    """
    from fontTools.subset import Options, Subsetter  # noqa: PLC0415 (only the child that cuts needs it)
    from fontTools.ttLib import TTFont  # noqa: PLC0415
    from fontTools.varLib.instancer import instantiateVariableFont  # noqa: PLC0415

    font = TTFont(cut.source(folder), recalcTimestamp=False)
    # Copyright and licence stay in the names 0, 13 and 14, as the licence asks.
    options = Options(
        layout_features=_FEATURES, hinting=False, name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14], notdef_outline=True
    )
    subsetter = Subsetter(options)
    subsetter.populate(text=cut.letters)
    subsetter.subset(font)
    font = instantiateVariableFont(font, {"wght": cut.weight, "opsz": OPTICAL_SIZE}, inplace=True)
    font.flavor = "woff2"
    out = BytesIO()
    font.save(out)
    return out.getvalue()


def face_rules(addresses: dict[str, str]) -> str:
    """Return the CSS that makes the cuts known, and the serif that stands in while they are on their way.

    Args:
        addresses: The address of each cut, by its name; {}: none, only what stands in.
    """
    rules = [
        f'@font-face{{font-family:"{FAMILY}";src:url("{addresses[cut.name]}") format("woff2");font-weight:{cut.weight};'
        f"font-style:{'italic' if cut.italic else 'normal'};font-display:swap}}"
        for cut in CUTS
        if cut.name in addresses
    ]
    return "".join(rules) + f':root{{--face:"{FAMILY}",{FALLBACKS}}}'
