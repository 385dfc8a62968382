"""The sentences of the evening before: tomorrow's air, the days of the record that were like it, and what to do tonight.

They name no cause and promise nothing: so many days took the place past its limit, and nobody knows the sky of tomorrow.
"""

from monitor.notices.facts import Phrases
from monitor.notices.instants import day_mark
from monitor.notices.sentences import Sentence, Words, always

HEAT_AHEAD, FROST_AHEAD = "heat-ahead", "frost-ahead"
"""Ids of the two notices."""


def _head(fell: str, spell: str, milder: str) -> Sentence:
    def write(say: Phrases) -> str:
        known = say.facts.foretold
        air = f"{say.value} in the air {day_mark(known.day)}"
        if known.as_today:
            air += " if it stays as it is"
        by = "" if known.as_today else f" (forecast{f', typed in by {say.word(known.by)}' if known.by else ''})"
        days = f"{known.days} {spell if known.days == 1 else f'{spell}s'} {milder}"
        return f"{say.place}: {air}; it {fell} {say.limit} on {days}, last {day_mark(known.last)}{by}"

    return write


EVENING_WORDS: dict[str, Words] = {
    HEAT_AHEAD: Words(
        head=_head("passed", "day", "no hotter"),
        advice=lambda _: (
            "Shade it before the sun is on it, and lay cool damp bedding on top; no food until it is over. Log it as "
            "covered, so that the record knows."
        ),
        act=always("Shade it before the sun is on it."),
    ),
    FROST_AHEAD: Words(
        head=_head("fell to", "night", "no colder"),
        advice=lambda _: (
            "Wrap it before dark and heap dry bedding on top; no water, no food, and no lamp or heater in it: they set "
            "bedding on fire. Log it as covered, so that the record knows."
        ),
        act=always("Wrap it before dark; no food."),
    ),
}
