"""The mirror's server of the campaign: takes lines over HTTP into `points`, and answers by its mood."""

import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

MOODS = ("busy", "faulty", "refuses", "rubbish", "away", "silent")
_ANSWERS = {"well": 204, "busy": 429, "faulty": 500, "refuses": 401}


class MirrorSink:
    """Keeps points as `receivers.MirrorServer` does: (head, time) -> fields."""

    def __init__(self, counts):
        self.mood = "well"
        self.points = {}
        sink = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_POST(self):
                lines = self.rfile.read(int(self.headers.get("Content-Length", 0))).decode().splitlines()
                mood = sink.mood
                if mood in ("away", "silent"):
                    counts.note(f"writes to a mirror's server that was {mood}")
                    time.sleep(2.0 if mood == "silent" else 0.0)
                    self.close_connection = True
                    return
                if mood in ("well", "rubbish"):
                    sink.keep(lines)
                    counts.note("points that the mirror's server took", len(lines))
                if mood == "rubbish":
                    counts.note("answers of the mirror's server that were rubbish")
                    self.wfile.write(b"\x00\xffno such thing\r\n\r\n")
                    self.close_connection = True
                    return
                if mood != "well":
                    counts.note(f"answers {_ANSWERS[mood]} of the mirror's server")
                self.send_response(_ANSWERS[mood])
                if mood == "busy":
                    self.send_header("Retry-After", "1")
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_):
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._server.handle_error = lambda *_: None
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def keep(self, lines):
        for line in lines:
            head, fields, *when = line.rsplit(" ", 2) if not line.endswith("alive=1i") else (line, "")
            self.points[(head, *when)] = fields

    def close(self):
        self._server.shutdown()
        self._server.server_close()
