"""Holds what the demo's configuration says beside its probes: beds, containers, the test of a lot; and the mix of its heaps.

Made up, as everything about this yard.
"""

HEAP_NAME = "p1-2025-09-06"
"""The heap of the autumn before, of which the lots were made."""
CASTINGS_LOT, HELD_LOT, COMPOST_LOT = "lot-b2-2026-05-30", "lot-b3-2026-06-13", "lot-p1-2025-10-18"
SPOTS_BY_HAND = ("west", "top", "east", "middle")
ROUND_DAYS = (*range(25), *range(27, 42, 3))
"""The days, from the building on, on which somebody read it by hand: each until its rule was met, then every third."""
ASKED_ALL = "stable litter=24 barrows"
ASKED_SOME = ("leaves=60 bags", "coffee grounds=1000 lb")
ASKED_BAY = "7 x 7 ft"
"""What `heaptender recipe` was asked for each of the four heaps."""
PARTS = "stable litter=24 barrow; leaves=47 bag; coffee grounds=1000 lb"
"""Its answer in containers, whole ones."""
WORKED_OUT = "C/N 39 and moisture 60 % worked out from the mix"
"""What its `--build` notes; a test asks it again."""

DETAILS: dict[str, tuple[str, ...]] = {
    "piles.p1": ("spots = [" + ", ".join(f'"{one}"' for one in SPOTS_BY_HAND) + "]",),
    "bins.b1": (
        'kind = "tub"',
        "begun = 2025-10-18",
        "indoors = false",
        'length = "32 in"',
        'width = "18 in"',
        'rim = "16 in"',
    ),
    "bins.b2": (
        'kind = "tub"',
        "begun = 2025-10-18",
        "indoors = true",
        'length = "39 in"',
        'width = "22 in"',
        'rim = "16 in"',
    ),
    "bins.b3": (
        'kind = "tub"',
        "begun = 2025-10-18",
        "indoors = false",
        'length = "39 in"',
        'width = "22 in"',
        'rim = "16 in"',
    ),
}
"""Further lines of tables of the configuration."""
FURTHER = """
[containers.barrow]
tare = "31 lb"
full = { "stable litter" = ["139 lb", "146 lb", "143 lb"] }

[containers.bag]
volume = "32 gal"

[lots]
tests = ["bean test"]
"""
"""Further tables of the configuration."""
