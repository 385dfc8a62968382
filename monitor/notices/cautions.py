"""Cautions that stand where people read them at leisure: on the sheet of each place and in `docs/safety.md`.

What cannot wait stands in the messages themselves (`texts`). Local codes and licensed practice come first.
How each is known stands in `docs/safety.md`; a test compares the two.
"""

from monitor.model.words import Method


def _paragraphs(text: str) -> tuple[str, ...]:
    return tuple(" ".join(one.split()) for one in text.strip().split("\n\n"))


DUST = (
    "Screening throws up dust and mold: damp what dusts, stay upwind, wear a mask (N95 or FFP2). With asthma or weak lungs let "
    "others do it."
)
"""The caution that stands where people ask for a screening or log one."""
LIFTING = "Wet castings are heavy: half loads, knees bent, two people at a bin."
"""The caution that stands where people ask for a harvest or log one."""

EVERYWHERE = _paragraphs("""
Local codes, your permit and the fire service come before anything said here.

Dust carries mold: damp it down and stay upwind when you turn or screen, with a mask (N95 or FFP2). With asthma,
cystic fibrosis or a weak immune system let others do it.

Legionella lives in compost: open bags and hose heaps without making mist, and wash your hands. Take more care if you
smoke, are over 50 or ill.

Wear gloves, cover cuts, keep your tetanus shot up to date. Where there are rats, there may be leptospirosis.

Lifting: wet material weighs more than it looks. Half loads, knees bent, two people at a bin, a ramp for the barrow.

Selling castings or compost: many states license or register it, and a label claims only what was measured.
""")

HEAPS = _paragraphs("""
140 °F (60 °C) burns in seconds: never reach into a hot heap; fork some out and let it cool.

A heap that was on fire inside is hollow: never climb on one, and put no machine on it.

Clean after dirty: a fork or thermometer that was in raw material carries it into what is finished.

Visitors: no turning, screening or loading while they are there; hands washed at the gate, no food, children under
five away from manure.

Rats: food scraps go under 10 in (25 cm) of browns, behind ¼ in (6 mm) mesh; log what you see.

Weed killer can outlast the heap in hay, straw and manure: before you give compost away, grow beans in three pots with
it and three without. Cupped leaves after 3 weeks: keep it.
""")

COVERED = _paragraphs("""
In sheds, covered bays and leachate pits gas gathers, most of all when a fan stands still: air them from outside,
never go in alone, and hang a carbon monoxide alarm in a closed shed.
""")

VESSELS = _paragraphs("""
Never put your head or body into a vessel, drum or pit: carbon monoxide, carbon dioxide, hydrogen sulfide and ammonia
kill there, and there may be no oxygen. Going in is for trained people with a permit.
""")

BINS = _paragraphs("""
Dung of the two weeks after worming goes to a hot heap, never to worms.

Wet pressing residues heat and sour within a day: layers of at most ½ in (12 mm), never over the whole bed.

Jumping worms: heat what comes in to 104 °F (40 °C) for three days, stack it on a hard floor, never let stock go.
""")


def cautions_for(method: Method | None) -> tuple[str, ...]:
    """Return the cautions for a heap by how it is aerated, or for a bin (None), the most particular first."""
    if method is None:
        return (*BINS, *EVERYWHERE)
    # Any heap may stand under a roof.
    closed = (*VESSELS, *COVERED) if method is Method.VESSEL else COVERED
    return (*closed, *HEAPS, *EVERYWHERE)
