"""Ends an action: puts its event before the writer, under a name, and leads back to the sheet that it came from."""

import logging
from urllib.parse import parse_qsl, urlencode

from starlette.responses import RedirectResponse, Response

from monitor.model.errors import FieldError, MisuseError
from monitor.page.forms.wish import Wish
from monitor.page.places.known_people import SOMEBODY_ELSE, signature
from monitor.page.ports import Done
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.visitors.own_paths import own_path
from monitor.page.visitors.sessions import Visitor, tidy_name

log = logging.getLogger("heaptender.page")


def put(page: PageContext, visitor: Visitor, wish: Wish, what: str, *, again: bool = False) -> Done:
    """Put a wish before the writer, and log who did.

    Args:
        page: The shared parts.
        visitor: Who wishes it.
        wish: The event.
        what: The place or alarm that it is about, for the log.
        again: Whether the person confirmed it, so that no question is asked.

    Returns:
        The outcome; a question of the writer stands in its `question`.

    Raises:
        MisuseError: The writer refused it; the sentence says why.
    """
    done = page.doing.put(wish.kind, wish.payload, again=again)
    who = signature(visitor)
    if done.refusal:
        log.info("Refused to %s, %s: %s: %s", who, what, wish.words, done.refusal)
        raise MisuseError(done.refusal)
    if done.question:
        log.info("Asked of %s, %s: %s: %s", who, what, wish.words, done.question)
        return done
    log.info("%s, %s: %s (%s).", what, wish.kind.value, wish.words, who)
    return done


def author(visitor: Visitor, form: dict[str, str]) -> str:
    """Return the name for an entry: the one picked or typed in the form, else the visitor's.

    Raises:
        FieldError: It was somebody else, of whom no name was typed.
    """
    if form.get("by") == SOMEBODY_ELSE:
        if other := tidy_name(form.get("by_other", "")):
            return other
        raise FieldError("Who was it? Type the name of whoever did it.", "by_other")
    return tidy_name(form.get("by", "")) or signature(visitor)


def lead_back(page: PageContext, form: dict[str, str], done: JustDone) -> Response:
    """Return the way back to the form's sheet, which then names the action and offers to undo it.

    Args:
        page: The shared parts.
        form: Has `back`, the sheet's address; without it, the place's sheet is meant.
        done: The action.
    """
    back = own_path(form.get("back", "") or (f"/place/{done.place}" if done.place else "/"))
    base, _, asked = back.partition("?")
    kept = [(name, value) for name, value in parse_qsl(asked) if name != "done"]
    query = urlencode([*kept, ("done", page.done_tokens.token(done))])
    return RedirectResponse(f"{base}?{query}", status_code=303)
