"""The sights of a look into a worm bin: each has a few words, and nothing else is one of them.

The squeeze test (a handful, pressed once) stands for a range of moisture: common practice, no published source.
"""

from collections.abc import Iterable

from monitor.model.work import Work

ON_THE_LID, DEAD = "on the lid", "dead"
UNWELL = (ON_THE_LID, DEAD)
"""Sights of worms that suffer."""
CRUMBLES, RUNS = "1", "5"
"""The squeezes of a handful that ask for water, and for dry bedding."""

SIGHTINGS: dict[str, tuple[str, ...]] = {  # the fields of `work_kinds.SIGHTS`
    "worms": ("plenty", "few", *UNWELL),
    "cocoons": ("yes", "none"),
    "smell": ("earthy", "none", "sour", "ammonia", "rotten eggs"),
    "squeeze": ("1", "2", "3", "4", "5"),
}
"""The words of each sight, by the field of `Work`."""

_ALSO = {("cocoons", "no"): "none", ("smell", "no"): "none", ("smell", "rotten"): "rotten eggs"}
"""Other words for a sight that people type."""

SQUEEZES: dict[str, tuple[str, tuple[int, int]]] = {
    "1": ("crumbles", (0, 40_000)),
    "2": ("holds, no shine", (40_000, 50_000)),
    "3": ("shines, one drop", (50_000, 60_000)),
    "4": ("two or three drops", (60_000, 70_000)),
    "5": ("runs", (70_000, 100_000)),
}
"""For each squeeze its words, and the range of moisture that it stands for, thousandths of a percent of wet mass."""


def sighting(name: str, text: str) -> str:
    """Return the word of a sight as the record keeps it; "" if there is none.

    Args:
        name: The field.
        text: As typed; capitals and spaces around it do not matter.

    Returns:
        One of `SIGHTINGS[name]`, or "".

    Raises:
        ValueError: It is no word of that sight; the message lists them.
    """
    word, words = " ".join(text.casefold().replace("-", " ").split()), SIGHTINGS[name]
    word = _ALSO.get((name, word), word)
    if word in ("", *words):
        return word
    right = f"{', '.join(words[:-1])} or {words[-1]}"
    raise ValueError(f'"{text.strip()[:20]}" says nothing of {name}; it is {right}')


def sightings_said(work: Work) -> list[str]:
    """Return the sights of an entry in words: `worms on the lid`, `smells sour`, `squeeze 4 (two or three drops)`."""
    said = {
        "worms": f"worms {work.worms}",
        "cocoons": "no cocoons" if work.cocoons == "none" else "cocoons",
        "smell": "no smell" if work.smell == "none" else f"smells {_of_smell(work.smell)}",
        "squeeze": f"squeeze {work.squeeze} ({SQUEEZES.get(work.squeeze, ('',))[0]})",
    }
    return [words for name, words in said.items() if getattr(work, name)]


def told(work: Work, names: Iterable[str] = SIGHTINGS) -> bool:
    """Return whether an entry holds a sight."""
    return any(getattr(work, name) for name in names)


def _of_smell(smell: str) -> str:
    return f"of {smell}" if smell in ("ammonia", "rotten eggs") else smell
