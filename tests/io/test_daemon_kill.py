"""The daemon killed at any instant, again and again: nothing acknowledged is lost, nothing is stored or decided twice."""

import os
import random
import threading
import time
from collections import Counter, defaultdict
from itertools import pairwise

import pytest
from brokers import wait_until
from daemon_process import DaemonProcess, toml
from senders import Sender
from sinks import WebHook

from monitor.journal import check_pages, open_reader, verify_chain
from monitor.model.notice_rows import Delivery

pytestmark = [pytest.mark.io, pytest.mark.timeout(240)]

RATE = 500
KILLS = 20 if os.environ.get("HYPOTHESIS_PROFILE") == "nightly" else 8
"""At night more; each costs seconds of a core."""
BINS = 15
PROBES = [f"p{p}-{n}" for p in (1, 2) for n in range(5)] + [f"b{n}-0" for n in range(BINS)]


def publish(sender, seed, stop):
    """RATE readings a second in turn; the bins' are too hot for a few seconds, each at another time."""
    chance = random.Random(seed)
    begun, number, last = time.monotonic(), 0, {}
    while not stop.is_set():
        since = time.monotonic() - begun
        while number < since * RATE:
            probe = PROBES[number % len(PROBES)]
            heat = 58.0
            if probe[0] == "b":
                heat = 36.5 if (since + int(probe[1:-2]) * 1.3) % 20 < 5 else 21.0
            # After a stall many go out at once; two readings of a probe at one instant would be a clash.
            last[probe] = max(int(time.time() * 1000), last.get(probe, 0) + 1)
            sender.send(probe, heat + chance.randrange(4000) / 10_000, last[probe])
            number += 1
        time.sleep(0.004)


def test_killed_again_and_again_under_load(tmp_path, mosquitto):
    seed = int(os.environ.get("KILL_SEED", "20260301"))
    print(f"seed {seed}")
    chance = random.Random(seed)
    # The hook takes its time to answer, so that some kills meet a message that is half handed over.
    broker, hook = mosquitto(), WebHook(answers_after_s=0.3)
    text = toml(broker.port, piles=[("p1", 5), ("p2", 5)], bins=[(f"b{n}", 1) for n in range(BINS)], channel=hook.url)
    daemon = DaemonProcess(tmp_path, text)
    starts = [daemon.start().subscribed()]
    sender, stop = Sender(broker.port), threading.Event()
    thread = threading.Thread(target=publish, args=(sender, seed, stop), daemon=True)
    thread.start()
    kills = []
    try:
        for number in range(KILLS):
            # A quarter of them while it starts, or as soon as it listens; the rest in the midst of work.
            if number % 4 == 3:
                subscribed = live_for(daemon, chance.uniform(0.05, 1.2))
            else:
                # Counted from when it listens: however slow the machine is, it is met at work.
                subscribed = daemon.subscribed()
                time.sleep(chance.uniform(0.0, 2.2))
            lived = time.monotonic() - daemon.begun
            print(f"kill {number} after {lived:.3f} s, subscribed after {subscribed or 0.0:.2f} s")
            assert daemon.process.poll() is None, daemon.log
            daemon.kill()
            kills.append(time.monotonic())
            starts += [subscribed] if subscribed else []
            assert "at fault" not in daemon.log
            assert "effect " not in daemon.log, daemon.log
            daemon.start()
        stop.set()
        thread.join()
        sender.settle()
        starts.append(daemon.subscribed())
        with open_reader(daemon.data) as store:
            wait_until(lambda: stored(store, 0) >= len(sender.sent), f"{len(sender.sent)} readings to be stored", 60)
            wait_until(lambda: store.waiting_notices() == 0, "the notices to be delivered", 60)
        code, seconds = daemon.end()
        assert code == 0, daemon.log
        print(f"ended within {seconds:.2f} s")
        check_record(daemon.data, sender)
        check_notices(daemon.data, hook.got, kills)
        starts.sort()
        print(f"{len(sender.sent)} readings, {len(hook.got)} messages, {len(starts)} starts: subscribed after "
              f"{starts[0]:.2f} to {starts[-1]:.2f} s, median {starts[len(starts) // 2]:.2f} s")  # fmt: skip
        assert len(starts) > KILLS // 2, "most were killed at work"
    finally:
        stop.set()
        daemon.close()
        sender.close()
        hook.close()


def live_for(daemon, seconds):
    """Let it live so long; return when it was subscribed, seconds after its start, or None."""
    subscribed = None
    while (lived := time.monotonic() - daemon.begun) < seconds:
        if subscribed is None and "mqtt is up" in daemon.log:
            subscribed = lived
        time.sleep(min(0.01, seconds - lived))
    return subscribed


def stored(store, after):
    return sum(len(arrival.rows) for arrival in store.readings_after(after, 1 << 40))


def check_record(data, sender):
    """Every reading that the broker took is there exactly once with its exact raw value, and the chain holds."""
    with open_reader(data) as store:
        found = Counter((row.probe, row.time, row.micro) for row in store.readings(store.probes(), 0, 1 << 60))
        assert not sender.taken - found.keys(), f"{len(sender.taken - found.keys())} acknowledged readings are lost"
        assert found.keys() <= set(sender.sent)
        assert max(found.values()) == 1
        arrivals = Counter((row.probe, row.time) for one in store.readings_after(0, 1 << 40) for row in one.rows)
        assert max(arrivals.values()) == 1
        assert verify_chain(store) == []
        assert check_pages(store) == []
        kinds = Counter(event.kind.value for event in store.events())
        assert kinds["started"] > KILLS // 2
        assert kinds["stopped"] == 1


def check_notices(data, got, kills):
    """No notice is missing, no cause has two rows, and a message came twice only across a kill, and says so."""
    with open_reader(data) as store:
        rows = [row for row in store.notices(limit=1 << 30) if row.contact == "ann"]
        decided = [effect for effect in store.effects() if effect.draft.kind.value == "notice"]
    assert len(rows) >= KILLS
    assert {row.state for row in rows} == {Delivery.DELIVERED}
    assert {(row.at, row.ordinal) for row in rows} == {(effect.at, effect.ordinal) for effect in decided}
    assert len({(row.at, row.ordinal, row.contact, row.channel) for row in rows}) == len(rows)
    causes = Counter((row.place, row.occasion, row.text, row.at) for row in rows)
    assert max(causes.values()) == 1
    came = defaultdict(list)
    for when, notice, title, _ in got:
        came[notice].append((when, title))
    assert came.keys() == {row.notice for row in rows}
    for notice, messages in came.items():
        for (before, _), (after, title) in pairwise(messages):
            assert any(before < kill + 0.2 and kill < after for kill in kills), f"{notice} came twice without a kill"
            assert "may be a repeat" in title
    repeated = sum(len(messages) - 1 for messages in came.values())
    print(f"{len(rows)} notices, {repeated} of them came again after a kill")
