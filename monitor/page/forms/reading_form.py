"""Turns the form of temperatures taken by hand into the event for the writer."""

from collections.abc import Collection, Mapping

from monitor.model.errors import FieldError, MisuseError
from monitor.model.events import EventKind
from monitor.model.hand_words import Taken, hand_payload, hand_value, round_words
from monitor.model.readings import hand_series
from monitor.model.settings import Settings
from monitor.notices import meaning
from monitor.page.forms.wish import Wish, entry_id_of, note_of, when_of


def reading_wish(
    settings: Settings, place: str, form: Mapping[str, str], by: str, now: int, withdrawn: Collection[int] = ()
) -> Wish:
    """Return the wish of a reading form.

    Args:
        settings: The yard's settings.
        place: Id of the place.
        form: Has `value`, or `value_1`, `value_2`, … for the place's spots.
        by: Who read.
        now: The daemon's time, UTC ms.
        withdrawn: Times (UTC ms) of readings that were taken back.

    Raises:
        FieldError: A value is no number, or no temperature of a heap or bin.
    """
    spots = settings.spots_of(place)
    typed = [(spot, f"value_{number}") for number, spot in enumerate(spots, 1)]
    read = [(spot, _value(settings, form, field)) for spot, field in typed if form.get(field, "").strip()]
    if not read and spots and not form.get("value", "").strip():
        raise FieldError("Type the value of one spot at least.", "value_1")
    if form.get("value", "").strip() or not read:
        read.append(("", _value(settings, form, "value")))
    at = when_of(form, settings, now)
    told = {"by": by, "note": note_of(form), "with": " ".join(form.get("with", "").split())[:40]}
    payload = hand_payload(place, at, read, told, withdrawn)
    meant = meaning(settings, place, [(hand_series(place, spot), one.milli) for spot, one in read], at, now)
    unread = [spot for spot, field in typed if not form.get(field, "").strip()] if len(read) > 1 else []
    words = [f"{round_words(read)}.", meant, f"Not read: {', '.join(unread)}." if unread else ""]
    return Wish(
        EventKind.READINGS, payload | entry_id_of(form), " ".join(one for one in words if one).removesuffix(".")
    )


def _value(settings: Settings, form: Mapping[str, str], field: str) -> Taken:
    try:
        return hand_value(settings, form.get(field, "").strip())
    except MisuseError as fault:
        raise FieldError(str(fault), field) from fault
