"""The two composed texts: *before you go*, and *while you were away*."""

from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.times import DAY_MS
from monitor.notices import LEAVING_MS
from monitor.page.places.page_times import from_text, last_evening
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets.composed_texts import told_in_parts
from monitor.page.sheets.keepers_only import keepers_only

AWAY_MOST_MS = 366 * DAY_MS
_INSTEAD = "it is shown since the last working day's end instead."


@keepers_only
def before(page: PageContext, request: Request) -> Response:
    """Show *before you go*; only to keepers, because it names who is on duty."""
    with page.yard.look() as look:
        told = told_in_parts(look.engine.before_you_go(look.now, look.diary(look.now + LEAVING_MS)))
        return page.show(request, "before.html", look, told=told)


@keepers_only
def away(page: PageContext, request: Request) -> Response:
    """Show *while you were away*, since a time that may be chosen; only to keepers, because it names who answered what."""
    with page.yard.look() as look:
        zone = ZoneInfo(look.engine.state.settings.site.time_zone)
        since, wrong = _since(request.query_params.get("since", ""), look.now, zone)
        told = told_in_parts(look.engine.while_you_were_away(look.now, since))
        return page.show(request, "away.html", look, told=told, since=since, wrong=wrong)


def _since(asked: str, now: int, zone: ZoneInfo) -> tuple[int, str]:
    """Return the beginning of the text (UTC ms), and why it is not the one asked for, or ""."""
    since, wrong = from_text(asked, zone), ""
    if since is None:
        wrong = f"That is no time; {_INSTEAD}" if asked else ""
    elif since > now:
        wrong = f"That is still to come; {_INSTEAD}"
    elif now - since > AWAY_MOST_MS:
        wrong = f"That is more than a year ago; {_INSTEAD}"
    return (last_evening(now, zone) if since is None or wrong else since), wrong
