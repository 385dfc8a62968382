"""The link in a message that answers *seen* to the message's alarms."""

import logging

from starlette.requests import Request
from starlette.responses import Response

from monitor.alarms import TRANSITIONS, Signal
from monitor.model.effects import EffectKind
from monitor.model.events import Answer, EventKind
from monitor.model.notice_values import keys_of
from monitor.notices import clean
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.visitors.message_links import SeenLink, read_seen

log = logging.getLogger("heaptender.page")


def seen_link(page: PageContext, request: Request) -> Response:
    """Open a message's link: GET shows one button, POST answers *seen*; it allows nothing else."""
    link = read_seen(page.key, request.path_params["token"], page.yard.now())
    if link is None:
        words = (
            "A link in a message works for a week, and only if it is complete. The page itself shows what needs doing."
        )
        return page.fault(request, words, 404, title="The link has ended")
    with page.yard.look() as look:
        told, keys = _told_by(look, link)
        if not told:
            words = "What this link was about is no longer in the record."
            return page.fault(request, words, 404, title="The link has ended")
        contact = look.engine.state.settings.contacts.get(link.contact)
        name = clean(contact.name) if contact is not None else link.contact
        waiting = [key for key in keys if _can_be_seen(look, key)]
        said = False
        if request.method == "POST" and waiting:
            for key in waiting:
                payload = {"alarm": key, "answer": Answer.SEEN.value, "by": name}
                done = page.doing.put(EventKind.ANSWER, payload)
                if done.refusal:
                    return page.fault(request, done.refusal, 400)
                log.info("%s: seen by %s, by the link of a message.", key, name)
            waiting, said = [], True
        return page.show(
            request,
            "seen.html",
            look,
            name=name,
            told=told,
            sent=link.at,
            waiting=waiting,
            said=said,
            alarms=bool(keys),
            onward=_onward(look, keys),
        )


def _onward(look: Look, keys: list[str]) -> str:
    """Return the address of the sheet about some alarms: their place, or the yard if they are of several."""
    about = {look.engine.state.alarms[key].place for key in keys}
    settings = look.engine.state.settings
    place = about.pop() if len(about) == 1 else ""
    return f"/place/{place}" if place in settings.piles or place in settings.bins else "/"


def _told_by(look: Look, link: SeenLink) -> tuple[list[str], list[str]]:
    """Return the texts of the notices that went to a contact at one instant, and their alarms."""
    texts: list[str] = []
    keys: list[str] = []
    for effect in look.effects(link.at - 1, link.at):
        draft = effect.draft
        if draft.kind is EffectKind.NOTICE and draft.after == link.contact:
            texts.append(draft.text)
            keys += keys_of(draft.values)
    alarms = look.engine.state.alarms
    return texts, [key for key in dict.fromkeys(keys) if key in alarms]


def _can_be_seen(look: Look, key: str) -> bool:
    return (look.engine.state.alarms[key].state, Signal.SEEN) in TRANSITIONS
