"""What others send without measure costs no memory: one enormous message, many full of strange names, an endless answer."""

import socket
import threading
import time

import paho.mqtt.client as mqtt
import pytest
from brokers import wait_until
from daemon_process import DaemonProcess, toml
from senders import Sender

from monitor.journal import open_reader
from monitor.mirror import InfluxServer, WriteError

pytestmark = [pytest.mark.io, pytest.mark.timeout(90)]

MIB = 1024 * 1024


def peak(pid):
    with open(f"/proc/{pid}/status") as lines:  # noqa: PTH123 (read at once)
        return next(int(line.split()[1]) * 1024 for line in lines if line.startswith("VmHWM"))


def test_an_enormous_message_is_set_aside_and_the_next_one_taken(tmp_path, mosquitto):
    broker = mosquitto()
    text = toml(broker.port, bins=[("b1", 1)]).replace('client_id = "test"', 'client_id = "test"\nversion = "3.1.1"')
    daemon = DaemonProcess(tmp_path, text).start()
    sender = Sender(broker.port)
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    try:
        daemon.subscribed()
        sender.send("b1-0", 21.0)

        def stored():
            with open_reader(daemon.data) as store:
                return len(list(store.readings(["b1-0"], 0, 1 << 60)))

        wait_until(lambda: stored() == 1, "the first reading")
        before = peak(daemon.process.pid)
        # A broker of version 5 keeps it to itself; one of 3.1.1 cannot be told how much is too much.
        client.publish("nodes/b1-0/senml", b"[" * (60 * MIB), qos=1).wait_for_publish(30)
        sender.send("b1-0", 22.0)
        sender.settle()
        wait_until(lambda: stored() == 2, "the reading after them", 30)
        assert peak(daemon.process.pid) - before < 20 * MIB
        with open_reader(daemon.data) as store:
            assert sum(one.total for one in store.set_aside()) == 1
        # They were acknowledged: after a restart they do not come again.
        daemon.end()
        daemon.start().subscribed()
        time.sleep(0.5)
        with open_reader(daemon.data) as store:
            assert sum(one.total for one in store.set_aside()) == 1
    finally:
        client.disconnect()
        client.loop_stop()
        sender.close()
        daemon.close()


@pytest.mark.parametrize("head", [b"HTTP/1.1 204 No Content\r\n\r\n", b"HTTP/1.1 400 Bad\r\n\r\n"])
def test_a_mirrors_answer_that_never_ends_is_given_up(head):
    sent = [0]
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()

        def answer():
            one, _ = listening.accept()
            one.recv(65_536)
            try:
                one.sendall(head)
                while sent[0] < 64 * MIB:
                    sent[0] += one.send(b"x" * 65_536)
            except OSError:
                pass
            one.close()

        threading.Thread(target=answer, daemon=True).start()
        server = InfluxServer(f"http://127.0.0.1:{listening.getsockname()[1]}", org="", bucket="b", token=None)
        if b"204" in head:
            server.write(["a b=1i 1"])
        else:
            with pytest.raises(WriteError, match="broke off"):
                server.write(["a b=1i 1"])
        server.close()
    assert sent[0] < 16 * MIB
