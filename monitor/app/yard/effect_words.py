"""Writes effects as lines for people: when, where and what; for replay, the demo and looking back."""

from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.model.effects import Effect, EffectKind, Occasion
from monitor.model.settings import Settings


def local_time(at: int, settings: Settings) -> str:
    """Return an instant (UTC ms) in the yard's local time: `Sat 18 Jul 12:20`."""
    moment = datetime.fromtimestamp(at / 1000, ZoneInfo(settings.site.time_zone))
    return f"{moment:%a} {moment.day} {moment:%b %H:%M}"


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
