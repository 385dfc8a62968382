"""Writes effects as lines for people: when, where and what; for replay, the demo and looking back."""

from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.model.effects import Effect, EffectKind, Occasion
from monitor.model.settings import Settings


def local_time(at: int, settings: Settings, now: int | None = None) -> str:
    """Return an instant in the yard's local time: `Sat 18 Jul 12:20`.

    Args:
        at: The instant, UTC ms.
        settings: The settings in force.
        now: When the words are read, UTC ms: `Fri 18 Jul 2025 12:20` if that is in another year. None: no year is said.
    """
    zone = ZoneInfo(settings.site.time_zone)
    moment = datetime.fromtimestamp(at / 1000, zone)
    other = now is not None and datetime.fromtimestamp(now / 1000, zone).year != moment.year
    return f"{moment:%a} {moment.day} {moment:%b %Y %H:%M}" if other else f"{moment:%a} {moment.day} {moment:%b %H:%M}"


def effect_words(effect: Effect, settings: Settings) -> str:
    """Return one effect as a line of text."""
    draft = effect.draft
    when = local_time(effect.at, settings)
    if draft.kind is EffectKind.NOTICE:
        contact = settings.contacts.get(draft.after or "")
        name = contact.name if contact is not None else draft.after
        text = draft.text.replace("\n", "\n" + " " * 18)
        return f"{when}  {occasion_words(draft.axis)} {name}: {text}"
    change = f"{draft.before} → {draft.after}" if draft.before is not None else f"{draft.after}"
    return f"{when}  {settings.place_name(draft.place) or settings.site.name}, {draft.axis}: {change}. {draft.why}"


def occasion_words(occasion: str) -> str:
    """Return the words with which a notice begins: `Message to`, `Again to`, ..."""
    return {
        Occasion.NEW: "Message to",
        Occasion.REPEAT: "Again to",
        Occasion.PASSED_ON: "Passed on to",
        Occasion.GROUP: "Messages to",
        Occasion.DIGEST: "Digest to",
    }[Occasion(occasion)]
