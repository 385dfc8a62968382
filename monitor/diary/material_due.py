"""Material that waits: what rots in stock, harvests unscreened, overs and middle beside their beds, lots without their tests.

None of it is published. That kitchen scraps and fresh dung rot and smell within days is common practice; the days are ours.
That nobody is asked a month later is ours too: by then it went somewhere, and nobody wrote it down.
"""

from monitor.diary.due import Due, What
from monitor.model.settings import YARD
from monitor.model.times import DAY_MS

ROTS_MS = 3 * DAY_MS
"""How long what rots can wait after it came in."""
UNSCREENED_MS = 14 * DAY_MS
"""How long a harvest can wait to be dried and screened."""
BACK_MS = 7 * DAY_MS
"""How long overs and middle can wait beside their bed: there are worms and cocoons in them."""
UNTESTED_MS = 28 * DAY_MS
"""How long a lot can wait for its test: a bean test takes three weeks."""
FORGET_MS = 28 * DAY_MS


def mix_due(material: str, delivery: str, came: int, much: str, now: int) -> Due | None:
    """Return when a delivery that rots must be mixed, fed or covered; None once nobody is asked any longer.

    Args:
        material: What it is.
        delivery: Its id, such as `d14`; "" for what a count found.
        came: When it came in, UTC ms.
        much: How much is left of it, for people.
        now: The instant of the look, UTC ms.
    """
    if now > came + ROTS_MS + FORGET_MS:
        return None
    called = f"{material} ({delivery})" if delivery else material
    return Due(
        due_ms=came, place=YARD, what=What.MIX, why=f"{called} rots while it waits: {much} by the record",
        of=delivery or f"{material.casefold()}/{came}", latest_ms=came + ROTS_MS,
    )  # fmt: skip


def unscreened_due(place: str, harvest: str, taken: int, now: int) -> Due | None:
    """Return when a harvest must be dried and screened, of which nothing went anywhere; None once nobody is asked.

    Args:
        place: The bin.
        harvest: Its name, such as `h31`.
        taken: When it was taken from the bed, UTC ms.
        now: The instant of the look, UTC ms.
    """
    if now > taken + UNSCREENED_MS + FORGET_MS:
        return None
    why = f"harvest {harvest} lies there since, neither screened nor made a lot; dry it to 35 to 45 % first"
    return Due(
        due_ms=taken, place=place, what=What.SCREEN, why=why, of=f"{harvest}/first", latest_ms=taken + UNSCREENED_MS
    )


def back_due(place: str, part: str, screened: int, now: int) -> Due | None:
    """Return when overs or middle must go into a bed again; None once nobody is asked any longer.

    Args:
        place: The bin that they came from.
        part: Their name, such as `h31/overs`.
        screened: When they were screened off, UTC ms.
        now: The instant of the look, UTC ms.
    """
    if now > screened + BACK_MS + FORGET_MS:
        return None
    if part.endswith("/middle"):
        why = f"the middle ({part}) waits since it was screened off; it begins a new bed"
    else:
        why = f"the overs ({part}) wait since they were screened off; they go back into a bed, with the worms in them"
    return Due(due_ms=screened, place=place, what=What.BACK, why=why, of=part, latest_ms=screened + BACK_MS)


def lot_test_due(lot: str, made: int, tests: list[str], left: str) -> Due:
    """Return when a lot must be tested that is held back for it; as long as something is left of it.

    Args:
        lot: Its id.
        made: When it was made, UTC ms.
        tests: The tests that the yard asks for and that are not in.
        left: How much is left, for people.
    """
    many = f"{tests[0]} is" if len(tests) == 1 else f"{', '.join(tests[:-1])} and {tests[-1]} are"
    why = f"held back until {many} in: {lot}, {left}"
    return Due(due_ms=made, place=YARD, what=What.TEST_LOT, why=why, of=lot, latest_ms=made + UNTESTED_MS)
