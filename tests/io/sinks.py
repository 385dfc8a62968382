"""Where messages end up in tests: a web hook and a mail server on loopback that keep what they got.

Both are well unless `mood` says otherwise: *refuses* takes nothing, *silent* takes nothing and answers only after `SILENT_S`,
*hangs up* takes a letter and breaks off without an answer. `came` counts the letters that came, taken or not, and `heard` is
called with (notice id, title, text) of each that is taken.
"""

import asyncio
import json
import re
import threading
import time
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from aiosmtpd.controller import Controller

NOTICE = re.compile(r"\[([0-9a-z]{5})\]")
SILENT_S = 8.0


def notice_of(title):
    found = NOTICE.search(title)
    assert found is not None, f"{title!r} names no notice"
    return found[1]


class WebHook:
    """Keeps (seconds, notice id, title, text) of each message that was posted as JSON."""

    def __init__(self, answers_after_s=0.0):
        self.got = []
        self.mood, self.came, self.heard = "well", 0, lambda *_letter: None
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                body = json.loads(self.rfile.read(int(self.headers.get("Content-Length", 0))))
                outer.came += 1
                if outer.mood in ("refuses", "silent"):
                    time.sleep(SILENT_S if outer.mood == "silent" else 0.0)
                    self.send_error(503)
                    return
                title = body["title"]
                outer.got.append((time.monotonic(), notice_of(title), title, body["message"]))
                outer.heard(notice_of(title), title, body["message"])
                if outer.mood == "hangs up":
                    return
                time.sleep(answers_after_s)
                self.send_response(200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_):
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.server.handle_error = lambda *_: None  # type: ignore[method-assign]
        self.url = f"json://127.0.0.1:{self.server.server_address[1]}/"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def close(self):
        self.server.shutdown()
        self.server.server_close()


class Mailbox:
    """A mail server that keeps (subject, text)."""

    def __init__(self, port):
        self.letters = []
        self.mood, self.came, self.heard = "well", 0, lambda *_letter: None
        self.url = f"mailto://127.0.0.1:{port}/?from=yard@example.org&to=ann@example.org&mode=insecure"
        self._controller = Controller(self, hostname="127.0.0.1", port=port)
        self._controller.start()

    async def handle_DATA(self, server, _session, envelope):  # noqa: N802 - the server asks for this name
        self.came += 1
        if self.mood in ("refuses", "silent"):
            await asyncio.sleep(SILENT_S if self.mood == "silent" else 0.0)
            return "451 Not now"
        mail = message_from_bytes(envelope.content, policy=policy.default)
        part = mail.get_body(("plain", "html"))
        title, text = mail["Subject"], part.get_content() if part is not None else mail.get_content()
        self.letters.append((title, text))
        if found := NOTICE.search(title):
            self.heard(found[1], title, text)
        if self.mood == "hangs up":
            server.transport.abort()
        return "250 OK"

    def close(self):
        self._controller.stop()
