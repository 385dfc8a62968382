"""The context of every address of the page: the ports, the visitors, the templates."""

import time
from typing import Any, TypedDict, Unpack
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from monitor.notices import say_time
from monitor.page.certifying_ports import Certifying
from monitor.page.forms.put_offs import put_off_words
from monitor.page.forms.repeats import Once
from monitor.page.forms.sent_form import SentForm
from monitor.page.mending_ports import Mending
from monitor.page.mixing_ports import Mixing
from monitor.page.page_settings import PageSettings
from monitor.page.page_templates import page_templates
from monitor.page.photo_ports import Photos
from monitor.page.places.known_people import SOMEBODY_ELSE, known_people
from monitor.page.places.page_times import ago, for_field, in_full
from monitor.page.ports import Doing, Look, Marking, Yard
from monitor.page.shared.just_done import DoneTokens
from monitor.page.shared.kept_answer import KeptAnswer
from monitor.page.shared.request_parts import back_of, visitor_of
from monitor.page.shared.static_files import StaticFiles
from monitor.page.shared.unchanged import answer_with
from monitor.page.visitors.calendar_links import CalendarLinks
from monitor.page.visitors.ended_sessions import EndedSessions
from monitor.page.visitors.guest_book import GuestBook
from monitor.page.visitors.sessions import Sessions, Visitor
from monitor.page.visitors.tries import Tries
from monitor.page.vital_ports import Vitals


class FurtherPorts(TypedDict, total=False):
    """The ports that a page can do without; what needs a missing one is not offered."""

    marking: Marking
    certifying: Certifying
    mixing: Mixing
    vitals: Vitals
    mending: Mending
    photos: Photos


class PageContext:
    """The shared parts; made once, used from any thread."""

    def __init__(
        self,
        settings: PageSettings,
        key: bytes,
        yard: Yard,
        doing: Doing,
        **ports: Unpack[FurtherPorts],
    ) -> None:
        self.settings = settings
        self.key = key
        self.yard = yard
        self.doing = doing
        self.marking = ports.get("marking")
        self.certifying = ports.get("certifying")
        self.mixing = ports.get("mixing")
        self.vitals = ports.get("vitals")
        self.mending = ports.get("mending")
        self.photos = ports.get("photos")
        self.guests = GuestBook(settings.folder)
        self.calendars = CalendarLinks(settings.folder, key)
        self.kept_calendar = KeptAnswer(time.monotonic)
        ended = EndedSessions(settings.folder)
        self.sessions = Sessions(key, settings.password_hash, self.guests, ended, alone=settings.alone)
        self.tries = Tries(time.monotonic)
        # Wrong guest links are no guesses at the password, so they must not make people with the password wait.
        self.guest_tries = Tries(time.monotonic)
        self.files = StaticFiles()
        self.once = Once()
        self.done_tokens = DoneTokens(key)
        self._name = ""

    def show(self, request: Request, template: str, look: Look | None, status: int = 200, /, **more: Any) -> Response:
        """Return a sheet.

        Args:
            request: The request.
            template: Name of the template.
            look: The look at the yard, or None for a sheet without the yard.
            status: The HTTP status.
            more: Further values for the template.
        """
        visitor = visitor_of(request)
        context: dict[str, Any] = {
            "visitor": visitor,
            "file": self.files.address,
            "faces": self.files.faces,
            "token": self.sessions.form_token(visitor.session, time.time()),
            "here": request.url.path,
            "back": back_of(request),
            "password": bool(self.settings.password_hash),
            "photos": self.photos is not None and self.photos.wanted,
            "just_done": None,
            "done_token": request.query_params.get("done", ""),
            "trouble": "",
            "trouble_in": "",
            "trouble_at": "",
            **(self._of_look(look) if look is not None else {**_NO_LOOK, **self._site(visitor)}),
            **more,
        }
        text = page_templates().get_template(template).render(context)
        if look is None or status != 200 or request.method != "GET":
            return HTMLResponse(text, status)
        stood, day = context["now_words"], context.get("day", "")
        differs = (context["token"], stood, day, f'data-stand="{look.now}"')
        return answer_with(request, text, differs, stood, day)

    def show_with_forms(
        self, request: Request, template: str, look: Look, sent: SentForm, /, form: str | None = None, **more: Any
    ) -> Response:
        """Return a sheet with forms, of which one may just have been sent, or led here.

        Args:
            request: The request.
            template: Name of the template.
            look: The look at the yard.
            sent: The form just sent, if it was not taken in.
            form: Which form of the sheet that was; None: its own field says so.
            more: Further values for the template.
        """
        done = self.done_tokens.read(request.query_params.get("done", ""))
        return self.show(request, template, look, sent.status, **{"just_done": done, **sent.shown(form), **more})

    def fault(self, request: Request, words: str, status: int, back: str = "/", title: str = "") -> Response:
        """Return a sheet that says in one sentence why something failed, and where to go on.

        Args:
            request: The request.
            words: The reason, a sentence.
            status: The HTTP status.
            back: The address to go on to.
            title: The heading; "": the status's usual one.
        """
        title = title or _FAULTS.get(status, "That was not done")
        return self.show(request, "fault.html", None, status, words=words, back=back, title=title)

    def _site(self, visitor: Visitor) -> dict[str, str]:
        """Return the yard's name as it was last seen; strangers get none."""
        return {"site": self._name} if self._name and visitor.looks else {}

    def _of_look(self, look: Look) -> dict[str, Any]:
        settings = look.engine.state.settings
        self._name = settings.site.name
        zone, now = ZoneInfo(settings.site.time_zone), look.now

        def clock(at: int) -> str:
            return say_time(at, now, zone)

        return {
            "site": settings.site.name,
            "now": now,
            "now_words": in_full(now, zone),
            "fresh": look.fresh,
            "clock": clock,
            "full": lambda at: in_full(at, zone),
            "ago": lambda at: ago(at, now),
            "put_offs": put_off_words(settings, now),
            "people": lambda: known_people(look),
            "somebody_else": SOMEBODY_ELSE,
            "field": lambda at: for_field(at, zone),
        }


_FAULTS = {403: "Not for everybody", 404: "Nothing is here", 500: "Something is broken", 503: "Not just now"}

_NO_LOOK: dict[str, Any] = {"site": "Heaptender", "now": 0, "now_words": "", "fresh": True, "put_offs": []}
