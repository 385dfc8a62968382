"""Somebody who opens the page, for its tests."""

import asyncio
import html
import re

import httpx

PASSWORD = "three barrows of leaves"


class Browser:
    """A browser on this computer, or elsewhere; it keeps cookies, and finds the form token on the page like one."""

    def __init__(self, app, host, address):
        self.cookies = httpx.Cookies()
        self._app = app
        self._base = f"http://{host}"
        self._address = address

    def request(self, method, path, *, follow_redirects=True, **more):
        async def send():
            transport = httpx.ASGITransport(app=self._app, client=(self._address, 50000))
            async with httpx.AsyncClient(transport=transport, base_url=self._base, cookies=self.cookies) as client:
                answer = await client.request(method, path, follow_redirects=follow_redirects, **more)
                self.cookies = client.cookies
                return answer

        return asyncio.run(send())

    def get(self, path, **more):
        return self.request("GET", path, **more)

    def post(self, path, **more):
        return self.request("POST", path, **more)

    def put(self, path, **more):
        return self.request("PUT", path, **more)

    def token(self, path="/"):
        found = re.search(r'name="token" value="([^"]+)"', self.get(path).text)
        assert found is not None, f"{path} has no token"
        return found[1]

    def send(self, path, *, page="/", **form):
        return self.post(path, data={"token": self.token(page), **form}, follow_redirects=False)


def browser(app, *, host="127.0.0.1:8460", address="127.0.0.1"):
    return Browser(app, host, address)


def signed_in(app, *, host, address="192.0.2.20", name=""):
    """Return somebody elsewhere who knows the password."""
    keeper = browser(app, host=host, address=address)
    answer = keeper.send("/enter", page="/enter", password=PASSWORD, name=name)
    assert answer.status_code == 303, answer.text
    return keeper


_PARTS = {
    "head": (r'<div class="place-head">\s*<div class="words">', r'<div class="drawn">'),
    "needs": (r'<ol class="ledger">', r"</ol>"),
    "today": (r'<ol class="ledger">', r"</ol>(?!\s*<div)"),  # a fire's steps are a list inside
    "over": (r'<details class="over">', r"</details>"),
    "rule": (r'<section class="rule"', r"</section>"),
    "remarks": (r'<ol class="remarks">', r"</ol>"),
    "table": (r"<table>", r"</table>"),
    "marks": (r'<details class="marks"', r"</details>"),
    "probes": (r'<ul class="probe-list">', r"</ul>"),
    "log": (r'<section class="log"', r"</section>"),
    "done": (r'<div class="done"', r"</div>"),
    "watched": (r'id="watched"', r"</p>"),
}
SAME_IN_EVERY_LOG = (
    "Touch an entry to put it right or to take it back, at any time.",
    "An empty slip to print and hang up",
)
_LINES = re.compile(r"</?(?:p|li|h\d|t[dhr]|ul|ol|section|summary|div|form|button|figure)\b[^>]*>")


def words_of(text, part):
    """Return the lines that a person reads in a part of a sheet; [] if the sheet has none."""
    begins, ends = _PARTS[part]
    found = re.search(f"{begins}(.*?){ends}", text, re.DOTALL)
    if found is None:
        return []
    asked = found[1]
    for same in SAME_IN_EVERY_LOG if part == "log" else ():
        asked = asked.replace(same, "")
    plain = re.sub(r"^[^<]*>|\s+", " ", re.sub(r"<svg.*?</svg>", "", asked, flags=re.DOTALL))
    lines = (re.sub(r"<[^>]+>", "", line) for line in _LINES.split(plain))
    return [html.unescape(" ".join(line.split())) for line in lines if line.strip()]
