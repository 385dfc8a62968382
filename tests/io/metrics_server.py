"""A real victoria-metrics on loopback, stopped and started at will, and what it holds."""

import json
import subprocess
import urllib.parse
import urllib.request

from brokers import find_free_port, program, wait_until


class MetricsServer:
    """One server with a folder of its own; `start` and `stop` keep what it took."""

    def __init__(self, folder, port=None):
        self.port = port or find_free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._folder = folder
        self._program = program("victoria-metrics")
        self._process = None

    def start(self):
        self._process = subprocess.Popen(
            [
                self._program,
                f"-httpListenAddr=127.0.0.1:{self.port}",
                f"-storageDataPath={self._folder}",
                "-retentionPeriod=10y",
                "-dedup.minScrapeInterval=1ms",
                "-loggerLevel=ERROR",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        wait_until(self._answers, "victoria-metrics to answer")
        return self

    def stop(self):
        if self._process is not None:
            self._process.terminate()
            self._process.wait()
            self._process = None

    def points(self, field):
        """Return (probe, time, value) of a field of the readings, as many times as it is held."""
        urllib.request.urlopen(f"{self.url}/internal/force_flush", timeout=10).close()
        asked = urllib.parse.urlencode({"match[]": f"heaptender_reading_{field}", "start": "2026-01-01T00:00:00Z"})
        with urllib.request.urlopen(f"{self.url}/api/v1/export?{asked}", timeout=10) as answer:
            series = [json.loads(line) for line in answer.read().splitlines()]
        return [
            (one["metric"]["probe"], time, value)
            for one in series
            for time, value in zip(one["timestamps"], one["values"], strict=True)
        ]

    def _answers(self):
        try:
            urllib.request.urlopen(f"{self.url}/health", timeout=1).close()
        except OSError:
            return False
        return True
