"""Where messages end up in tests: a web hook and a mail server on loopback that keep what they got."""

import json
import re
import threading
import time
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from aiosmtpd.controller import Controller

NOTICE = re.compile(r"\[([0-9a-z]{5})\]")


class WebHook:
    """Keeps (seconds, notice id, title, text) of each message that was posted as JSON."""

    def __init__(self, answers_after_s=0.0):
        self.got = []
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                body = json.loads(self.rfile.read(int(self.headers.get("Content-Length", 0))))
                title = body["title"]
                found = NOTICE.search(title)
                assert found is not None, f"{title!r} names no notice"
                outer.got.append((time.monotonic(), found[1], title, body["message"]))
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
        self.url = f"mailto://127.0.0.1:{port}/?from=yard@example.org&to=ann@example.org&mode=insecure"
        self._controller = Controller(self, hostname="127.0.0.1", port=port)
        self._controller.start()

    async def handle_DATA(self, _server, _session, envelope):  # noqa: N802 - the server asks for this name
        mail = message_from_bytes(envelope.content, policy=policy.default)
        text = mail.get_body(("plain", "html"))
        self.letters.append((mail["Subject"], text.get_content() if text is not None else mail.get_content()))
        return "250 OK"

    def close(self):
        self._controller.stop()
