"""The demo's yard on paper: its places, its probes and their positions; and the same as configuration text.

Everything here is made up. The TOML text is written from the table of probes, so the two cannot drift apart.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.model.settings import AMBIENT
from monitor.simulate.probe_errors import AIR_THERMOMETER, MOISTURE, OXYGEN, THERMOMETER, Make

SITE_NAME = "Tern Hollow allotments"
TIME_ZONE = "America/New_York"
RULE = "us-112-54-turned"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A probe of the yard.

    Attributes:
        name, place, role: As in the configuration.
        make: Kind of probe.
        depth_m: Depth below the surface, in a pile.
        share: From the sunny side (0) to the far side (1), in a bin.
        excess: Factor on the place's excess over the air at this spot (1: as the model says).
    """

    name: str
    place: str
    role: str
    make: Make
    depth_m: float = 0.0
    share: float = 0.5
    excess: float = 1.0


PILES = {"p1": "Bay 1", "p2": "Bay 2", "p3": "Bay 3"}
BINS = {"b1": "Sunny wall bin", "b2": "Shed bin", "b3": "Shade bin"}

# A node reads all its probes at once; this is each node's offset within a step, in ms.
NODE_MS = {"p1": 2_000, "p2": 5_000, "p3": 8_000, "b1": 11_000, "b2": 14_000, "b3": 17_000, AMBIENT: 20_000}


def _pile(pile: str, excess: tuple[float, float, float], *, oxygen: bool = False) -> list[Spot]:
    depths = (0.60, 0.45, 0.35)
    spots = [
        Spot(name=f"{pile}-{letter}", place=pile, role="core", make=THERMOMETER, depth_m=depth, excess=share)
        for letter, depth, share in zip("abc", depths, excess, strict=True)
    ]
    spots.append(Spot(name=f"{pile}-s", place=pile, role="surface", make=THERMOMETER, depth_m=0.10))
    spots.append(Spot(name=f"{pile}-m", place=pile, role="core", make=MOISTURE, depth_m=0.40))
    if oxygen:
        spots.append(Spot(name=f"{pile}-o", place=pile, role="core", make=OXYGEN, depth_m=0.45))
    return spots


def _bin(name: str, shares: tuple[float, ...]) -> list[Spot]:
    spots = [
        Spot(name=f"{name}-{letter}", place=name, role="bedding", make=THERMOMETER, share=share)
        for letter, share in zip("tu", shares, strict=False)
    ]
    spots.append(Spot(name=f"{name}-m", place=name, role="bedding", make=MOISTURE))
    return spots


SPOTS: tuple[Spot, ...] = (
    *_pile("p1", (1.01, 1.0, 0.985), oxygen=True),
    *_pile("p2", (1.0, 1.015, 1.0)),
    *_pile("p3", (1.0, 0.99, 0.98)),
    *_bin("b1", (0.25, 0.75)),
    *_bin("b2", (0.5,)),
    *_bin("b3", (0.5,)),
    Spot(name="amb", place=AMBIENT, role="ambient", make=AIR_THERMOMETER),
)


def settings_text(
    built: dict[str, str],
    *,
    url: str | None = None,
    data: str = "data",
    port: int | None = None,
    contacts: bool = True,
    details: Mapping[str, Sequence[str]] | None = None,
    further: str = "",
) -> str:
    """Write the yard's configuration as TOML.

    Args:
        built: RFC 3339 time of each pile's first batch, by the pile's id.
        url: Address of the serial link, or None to leave the link out.
        data: Folder of the journal.
        port: Port of the page, or None for its default.
        contacts: Whether to include the two people of the demo (without channels: their notices go to the page).
        details: Further lines of the places' tables, by the name of the table.
        further: Further tables, as TOML.

    Returns:
        The text of the file.
    """
    more = details or {}
    lines = ["[site]", f'name = "{SITE_NAME}"', f'time_zone = "{TIME_ZONE}"', 'temperature_unit = "degF"']
    lines += [f'data = "{data}"', ""]
    for pile, name in PILES.items():
        lines += [f"[piles.{pile}]", f'name = "{name}"', f'rule = "{RULE}"', 'method = "turned"']
        lines += [f"built = {built[pile]}"] if pile in built else []
        lines += [*more.get(f"piles.{pile}", ()), ""]
    for place, name in BINS.items():
        lines += [f"[bins.{place}]", f'name = "{name}"', *more.get(f"bins.{place}", ()), ""]
    for spot in SPOTS:
        lines += [f"[probes.{spot.name}]", f'place = "{spot.place}"', f'role = "{spot.role}"']
        lines += [f'quantity = "{spot.make.quantity}"']
        lines += [f'depth = "{spot.depth_m * 100:.0f} cm"', ""] if spot.depth_m else [""]
    if contacts:
        lines += ["[contacts.keeper]", 'name = "Yard keeper"', "order = 1", ""]
        lines += ["[contacts.deputy]", 'name = "Deputy"', "order = 2", "digest = false", ""]
    if url is not None:
        lines += ["[serial.shed]", f'url = "{url}"', "baud = 115200", 'form = "lines"', ""]
    if port is not None:
        lines += ["[page]", f"port = {port}", ""]
    return "\n".join(lines) + further
