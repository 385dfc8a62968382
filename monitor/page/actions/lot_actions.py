"""Writes down what is done with lots: one made, tested, given out."""

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.model.errors import FieldError, MisuseError
from monitor.model.settings import YARD
from monitor.model.work import WorkKind
from monitor.page.actions.submit import author, lead_back, put
from monitor.page.forms.questions import question_of
from monitor.page.forms.repeats import at_its_time
from monitor.page.forms.sent_form import SentForm
from monitor.page.forms.wish import when_of
from monitor.page.forms.work_form import work_wish
from monitor.page.ports import Look
from monitor.page.shared.just_done import JustDone
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.sheets.lot_sheet import show_lot
from monitor.page.sheets.stock_sheet import FORMS, show_stock
from monitor.page.visitors.bag_links import lot_path


def of_lots(page: PageContext, request: Request) -> Response:
    """Write down that a lot was made, tested, or given out; the form's `form` says which."""
    form, visitor = form_of(request), visitor_of(request)
    if led := page.once.led(form):
        return RedirectResponse(led, 303)
    kind = FORMS.get(form.get("form", ""))
    if kind is None:
        raise MisuseError("That is no form about lots.")
    with page.yard.look() as look:
        form = at_its_time(form, look.now)
        try:
            told = {**form, "kind": kind.value, "photo": ""} | _known_by_record(look, form, kind)
            wish = work_wish(look.engine.state.settings, YARD, told, author(visitor, form), look.now)
            if doubts := _doubts(look, told, kind):
                asked = question_of(doubts, request.url.path, form)
                return _sheet(page, request, look, kind, SentForm(form, question=asked))
            done = put(page, visitor, wish, told["lot"], again=bool(form.get("again")))
        except MisuseError as fault:
            return _sheet(page, request, look, kind, SentForm(form, fault))
        if done.question:
            asked = question_of(done.question, request.url.path, form)
            return _sheet(page, request, look, kind, SentForm(form, question=asked))
    words = f"Written down: {wish.words}" if done.at is not None else "That was written down already"
    back = {**form, "back": lot_path(told["lot"])}
    answered = lead_back(page, back, JustDone(YARD, words, done.at))
    page.once.keep(form, answered.headers["location"])
    return answered


def _known_by_record(look: Look, form: dict[str, str], kind: WorkKind) -> dict[str, str]:
    """Return the fields that the record knows: the lot's id as it is written there, and what a new lot is made of.

    Raises:
        MisuseError: There is no such lot, or nothing that a new one could be made of.
    """
    if kind is not WorkKind.LOT:
        return {"lot": look.material().lot(form.get("lot", ""), names=False).line.id}
    source = form.get("what", "").strip()
    if not source:
        raise FieldError("Choose what the lot is made of.", "what")
    what, lot = look.material().new_lot(source, when_of(form, look.engine.state.settings, look.now))
    return {"what": what, "lot": lot}


def _doubts(look: Look, told: dict[str, str], kind: WorkKind) -> str:
    """Return the doubts about making a lot or giving some out; "" if there are none, or a person has answered them."""
    amount = f"{told.get('amount', '')} {told.get('measure', '')}".strip()
    if told.get("again"):
        return ""
    at = when_of(told, look.engine.state.settings, look.now)
    if kind is WorkKind.LOT:
        return look.material().doubts_of_making(told["what"], amount, told.get("moisture", ""), at)
    if kind is not WorkKind.GIVEN:
        return ""
    return look.material().doubts(told["lot"], amount, told.get("receiver", ""), at)


def _sheet(page: PageContext, request: Request, look: Look, kind: WorkKind, sent: SentForm) -> Response:
    """Return the sheet that the form came from, with what is wrong or asked."""
    if kind is WorkKind.LOT:
        return show_stock(page, request, look, sent)
    return show_lot(page, request, look, sent.kept.get("lot", ""), sent)
