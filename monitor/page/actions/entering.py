"""Who may come in: the password, guest links, a name for the log, and links in messages that say *seen*."""

import logging
import threading
import time

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.alarms import TRANSITIONS, Signal
from monitor.model.effects import EffectKind
from monitor.model.errors import UnavailableError
from monitor.model.events import Answer, EventKind
from monitor.notices import clean
from monitor.page.pictures.qr_code import label_svg
from monitor.page.ports import Look
from monitor.page.shared.house import House, form_of, visitor_of
from monitor.page.visitors.hosts import is_loopback
from monitor.page.visitors.message_links import SeenLink, read_seen
from monitor.page.visitors.own_paths import own_path
from monitor.page.visitors.passwords import fits
from monitor.page.visitors.sessions import tidy_name

log = logging.getLogger("heaptender.page")

_GUEST_GONE = "This guest link is not in force any more. Ask whoever gave it to you for a new one."

_PASSWORD_LOCK = threading.Lock()
"""One password at a time: comparing takes 16 MB and a tenth of a second on purpose."""


def enter(house: House, request: Request) -> Response:
    """Ask for the password, or take it."""
    visitor = visitor_of(request)
    onward = own_path(request.query_params.get("next", "") or form_of(request).get("next", "") or "/")
    if request.method != "POST":
        if visitor.keeps:
            return RedirectResponse(onward, 303)
        return _asked(house, request, onward)
    form = form_of(request)
    name = tidy_name(form.get("name", ""))
    with _PASSWORD_LOCK:
        wait_s = house.tries.wait_s(visitor.address)
        if wait_s > 0:
            words = f"Too many tries. Wait {_wait_words(wait_s)}, then try again."
            return _asked(house, request, onward, 429, name, words)
        kept = house.settings.password_hash
        if not kept or not fits(form.get("password", ""), kept):
            house.tries.failed(visitor.address)
            log.warning("A wrong password was tried from %s.", visitor.address)
            words = "That is not the password. Mind capitals, and try again."
            return _asked(house, request, onward, 403, name, words)
        house.tries.passed(visitor.address)
    log.info("%s came in from %s.", name or "Somebody", visitor.address)
    return _with_cookie(house, request, RedirectResponse(onward, 303), name=name, known=True)


def _asked(house: House, request: Request, onward: str, status: int = 200, name: str = "", wrong: str = "") -> Response:
    was_guest = visitor_of(request).was_guest and not wrong
    return house.show(request, "enter.html", None, status, onward=onward, name=name, wrong=wrong, was_guest=was_guest)


def leave(house: House, request: Request) -> Response:
    """End the session, wherever its cookie may be."""
    house.sessions.end(visitor_of(request).session, time.time())
    return _with_cookie(house, request, RedirectResponse("/", 303))


def call_me(house: House, request: Request) -> Response:
    """Keep a name, which then stands beside what its bearer writes down."""
    visitor, form = visitor_of(request), form_of(request)
    name = tidy_name(form.get("name", ""))
    response = RedirectResponse(own_path(form.get("back", "/people")), 303)
    return _with_cookie(house, request, response, name=name, known=visitor.known, session=visitor.session)


def guest(house: House, request: Request) -> Response:
    """Let the holder of a guest link look."""
    visitor = visitor_of(request)
    wait_s = house.guest_tries.wait_s(visitor.address)
    found = house.guests.holder(request.path_params["secret"]) if wait_s <= 0 else None
    if found is None:
        if wait_s <= 0:
            house.guest_tries.failed(visitor.address)
        return house.fault(request, _GUEST_GONE, 404, title="The link has ended")
    log.info("Guest link %d (%s) was opened from %s.", found.number, found.name, visitor.address)
    if visitor.keeps:
        return RedirectResponse("/", 303)
    return _with_cookie(house, request, RedirectResponse("/", 303), guest=found.secret_hash)


def people(house: House, request: Request) -> Response:
    """Show who may come in: one's own name, the guest links."""
    return _people(house, request)


def _people(house: House, request: Request, *, made: str = "", trouble: str = "") -> Response:
    visitor = visitor_of(request)
    if not visitor.keeps:
        return house.fault(request, "This page is for those who keep the yard.", 403)
    with house.yard.look() as look:
        contacts = [clean(one.name) for one in look.engine.state.settings.contacts.values()]
        return house.show(
            request,
            "people.html",
            look,
            400 if trouble else 200,
            here="/people",
            back="/people",
            guests=house.guests.all(),
            made=made,
            code=label_svg(made) if made else "",
            contacts=contacts,
            trouble=trouble,
            listen=house.settings.listen,
            loopback=is_loopback(house.settings.listen),
        )


def make_guest(house: House, request: Request) -> Response:
    """Make a guest link and show it this once."""
    visitor, form = visitor_of(request), form_of(request)
    name = tidy_name(form.get("name", "")) or "a guest"
    try:
        made, secret = house.guests.make(name, visitor.name or "a keeper", house.yard.now())
    except UnavailableError as fault:
        return _people(house, request, trouble=str(fault))
    log.info("Guest link %d for %s made by %s.", made.number, made.name, made.by)
    return _people(house, request, made=f"{house.settings.link}/guest/{secret}")


def withdraw_guest(house: House, request: Request) -> Response:
    """Withdraw a guest link; who came by it is out with their next step."""
    number = form_of(request).get("number", "")
    try:
        gone = house.guests.withdraw(int(number)) if number.isdecimal() else None
    except UnavailableError as fault:
        return _people(house, request, trouble=str(fault))
    if gone is not None:
        log.info("Guest link %d (%s) withdrawn by %s.", gone.number, gone.name, visitor_of(request).name or "a keeper")
    return RedirectResponse("/people", 303)


def seen_link(house: House, request: Request) -> Response:
    """Open a link of a message: GET shows one button, POST says *seen*; nothing else can be done with it."""
    link = read_seen(house.key, request.path_params["token"], house.yard.now())
    if link is None:
        words = "A link in a message serves a week, and only whole. The page itself shows what needs doing."
        return house.fault(request, words, 404, title="The link has ended")
    with house.yard.look() as look:
        told, keys = _told_by(look, link)
        if not told:
            words = "What this link was about is not in the record any more."
            return house.fault(request, words, 404, title="The link has ended")
        contact = look.engine.state.settings.contacts.get(link.contact)
        name = clean(contact.name) if contact is not None else link.contact
        waiting = [key for key in keys if _can_be_seen(look, key)]
        said = False
        if request.method == "POST" and waiting:
            for key in waiting:
                payload = {"alarm": key, "answer": Answer.SEEN.value, "by": name}
                done = house.doing.put(EventKind.ANSWER, payload)
                if done.refusal:
                    return house.fault(request, done.refusal, 400)
                log.info("%s: seen by %s, by the link of a message.", key, name)
            waiting, said = [], True
        return house.show(
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
    """Return where the page shows what some alarms are about: their place, or the yard where they are of several."""
    about = {look.engine.state.alarms[key].place for key in keys}
    settings = look.engine.state.settings
    place = about.pop() if len(about) == 1 else ""
    return f"/place/{place}" if place in settings.piles or place in settings.bins else "/"


def _told_by(look: Look, link: SeenLink) -> tuple[list[str], list[str]]:
    """Return the texts and the alarms of what was told to a contact at one instant."""
    texts, keys = [], []
    for effect in look.effects(link.at - 1, link.at):
        draft = effect.draft
        if draft.kind is EffectKind.NOTICE and draft.after == link.contact:
            texts.append(draft.text)
            keys += [str(key) for key in draft.values.get("keys", ())]
    alarms = look.engine.state.alarms
    return texts, [key for key in dict.fromkeys(keys) if key in alarms]


def _can_be_seen(look: Look, key: str) -> bool:
    return (look.engine.state.alarms[key].state, Signal.SEEN) in TRANSITIONS


def _with_cookie(
    house: House, request: Request, response: Response, *, name: str = "", known: bool = False, guest: str = "",
    session: str = "",
) -> Response:  # fmt: skip
    value = house.sessions.begin(time.time(), name=name, known=known, guest=guest, session=session)
    gate = request.scope["gate"]
    response.headers["set-cookie"] = gate.cookie(value)
    return response


def _wait_words(wait_s: float) -> str:
    return f"{round(wait_s / 60)} min" if wait_s >= 90 else f"{max(1, round(wait_s))} s"
