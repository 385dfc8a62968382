"""A node that publishes timed SenML readings with QoS 1, and knows which the broker has taken."""

import threading
import time

import paho.mqtt.client as mqtt
from brokers import wait_until


def senml(probe, time_ms, value):
    return f'[{{"n":"{probe}","t":{time_ms // 1000}.{time_ms % 1000:03d},"u":"Cel","v":{value:.4f}}}]'.encode()


class Sender:
    """One connection; `sent` holds what was published, `taken` what the broker acknowledged: (probe, time, micro)."""

    def __init__(self, port):
        self._lock = threading.Lock()
        self._mids = {}
        self._early = set()
        self.sent = []
        self.taken = set()
        self._client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        self._client.max_inflight_messages_set(5000)
        self._client.on_publish = self._acknowledged
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def _acknowledged(self, _client, _userdata, mid, *_):
        with self._lock:
            reading = self._mids.pop(mid, None)
            if reading is None:
                self._early.add(mid)
            else:
                self.taken.add(reading)

    def send(self, probe, value, time_ms=None):
        time_ms = int(time.time() * 1000) if time_ms is None else time_ms
        reading = (probe, time_ms, round(value * 10_000) * 100)
        info = self._client.publish(f"nodes/{probe}/senml", senml(probe, time_ms, value), qos=1)
        with self._lock:
            self.sent.append(reading)
            if info.mid in self._early:
                self._early.discard(info.mid)
                self.taken.add(reading)
            else:
                self._mids[info.mid] = reading

    def settle(self):
        """Wait until the broker has taken everything."""
        wait_until(lambda: len(self.taken) == len(self.sent), "the broker to take what was published")

    def close(self):
        self._client.disconnect()
        self._client.loop_stop()
