"""What goes wrong in a round: each kind puts its course on the round's agenda, at instants that its seed draws."""

import signal
from functools import partial

from tests.faults.yard import BROKEN

from .mirror_sink import MOODS

HOUR, DAY = 3_600_000, 86_400_000


def killed_at_first_start(r):
    """The very first start of a yard ends before it is done."""
    r.first_start_s = r.chance.uniform(0.05, 2.5)


def killed_at_start(r):
    def again():
        r.kill(pause_s=0.0)
        r.after(r.chance.uniform(0.05, 2.5), r.kill)

    r.some_time(again)


def killed_at_work(r):
    r.some_time(r.kill)


def killed_packing(r):
    _killed_in_job(r, "pack")


def killed_dropping_days(r):
    _killed_in_job(r, "prune")


def killed_copying(r):
    _killed_in_job(r, "backup")


def killed_looking_for_damage(r):
    _killed_in_job(r, "look")


def _killed_in_job(r, job):
    delay_s = r.chance.choice([0.0, r.chance.uniform(0, 0.01), r.chance.uniform(0, 0.1)])

    def arm():
        begun = r.jobs[f"{job} begins"]

        def hit():
            r.nap(delay_s)
            r.counts.note(f"kills in the job {job}")
            r.kill()

        r.when(lambda: r.jobs[f"{job} begins"] > begun, hit, r.kill)

    r.some_time(arm)


def killed_delivering(r):
    delay_s = r.chance.uniform(0, 0.4)

    def arm():
        came = r.hook.came + r.mailbox.came

        def hit():
            r.nap(delay_s)
            r.counts.note("kills while letters were on their way")
            r.kill()

        r.when(lambda: r.hook.came + r.mailbox.came > came, hit, r.kill)

    r.some_time(arm)


def killed_importing(r):
    """The daemon is killed while a command hands it a recording; the command says whether all of it is in."""
    r.some_time(lambda: r.imports(then=r.kill, within_s=r.chance.uniform(0.6, 3.0)))


def import_killed(r):
    """The command is killed in the midst of handing over a recording."""
    r.some_time(lambda: r.imports(then=None, within_s=r.chance.uniform(0.6, 3.0)))


def ended_in_order(r):
    r.some_time(r.end)


def power_cut(r):
    def cut():
        r.kill()
        r.storage.cut(lied=False)
        r.counts.note("power cuts")

    r.some_time(cut)


def disk_lied(r):
    """What the disk had said to have written is not there: nothing can be promised but that damage is found."""
    r.some_time(r.lie)


def disk_full(r):
    def full():
        if r.is_running() and not r.storage.bad:
            r.counts.note("disks that filled up")
            r.outage_begins()
            r.after(r.chance.choice([0.5, r.chance.uniform(0.5, 9.0), 9.0]), r.outage_ends)

    r.some_time(full)


def disk_full_at_start(r):
    def down():
        r.kill(pause_s=0.1)
        r.counts.note("disks that were full at a start")
        r.may_be_strange = r.may_fail = True
        r.storage.fill(None)
        r.after(r.chance.uniform(4.0, 20.0), r.outage_ends)

    if r.storage.own:
        r.some_time(down)


def disk_read_only(r):
    """The file system comes back read-only, as one with faults does, and is mended some starts later."""

    def over():
        r.storage.free()
        r.counts.note("disks that were writable again")

    def down():
        r.kill(pause_s=0.1)
        if r.storage.only_read(on=True):
            r.counts.note("disks that came back read-only")
            r.may_fail = r.may_be_strange = True
            r.after(r.chance.uniform(4.0, 20.0), over)

    r.some_time(down)


def bit_flipped(r):
    r.with_copy(lambda: r.flip(run_on=r.chance.random() < 0.5))


def backup_put_back(r):
    r.with_copy(lambda: r.put_back(killed=r.chance.random() < 0.5))


def broker_stopped(r):
    _broker_ends(r, signal.SIGTERM)


def broker_killed(r):
    r.broker_forgets = True
    _broker_ends(r, signal.SIGKILL)


def _broker_ends(r, how):
    def stop():
        r.broker.stop(how)
        r.after(r.chance.uniform(0.2, 4.0), r.broker_back)

    r.some_time(stop)


def broker_hangs(r):
    def pause():
        r.broker.pause()
        r.after(r.chance.uniform(0.2, 5.0), r.broker.resume)

    r.some_time(pause)


def acknowledgements_lost(r):
    """The broker never hears that messages were taken, and delivers them again."""
    for _ in range(r.chance.choice([1, 1, 3])):
        r.some_time(lambda: setattr(r.tap, "loses", r.chance.randrange(1, 30)))


def connection_cut(r):
    for _ in range(r.chance.choice([1, 3])):
        r.some_time(r.tap_cut)


def noise(r):
    for _ in range(3):
        r.some_time(lambda: r.nodes.clutter(r.chance.randrange(1, 30)))


def mirror_in_a_mood(r):
    for _ in range(r.chance.choice([1, 2])):
        mood, seconds = r.chance.choice(MOODS), r.chance.uniform(1, 6)
        r.some_time(partial(r.mood, r.mirror, mood, seconds))


def mail_in_a_mood(r):
    mood = r.chance.choice(["refuses", "hangs up", "silent"])
    r.some_time(lambda: r.mood(r.mailbox, mood, r.chance.uniform(1, 7)))


def web_hook_in_a_mood(r):
    mood = r.chance.choice(["refuses", "hangs up", "silent"])
    r.some_time(lambda: r.mood(r.hook, mood, r.chance.uniform(1, 7)))


def clock_jumps(r):
    by_ms = r.chance.choice([-DAY, -HOUR, -180_000, 180_000, HOUR, DAY])

    def jump():
        r.clock_off(by_ms)
        r.after(r.chance.uniform(1, 6), lambda: r.clock_off(0))

    r.some_time(jump)


def clock_wrong_at_start(r):
    by_ms = r.chance.choice([-DAY, -HOUR, 180_000, HOUR, DAY])

    def start():
        r.clock_off(by_ms)
        r.kill(pause_s=0.1)
        r.after(r.chance.uniform(3, 8), lambda: r.clock_off(0))

    r.some_time(start)


def settings_changed(r):
    r.some_time(lambda: r.settings(r.chance.choice([{"extra": True}, {"hot": 150}, {"gather": "5s"}])))


def settings_broken(r):
    def broken():
        r.settings_text(r.chance.choice(BROKEN))
        r.counts.note("broken settings handed over")
        r.after(r.chance.uniform(0.5, 3.0), r.settings)

    r.some_time(broken)


KINDS = {
    one.__name__.replace("_", " "): one
    for one in (
        killed_at_first_start, killed_at_start, killed_at_work, killed_packing, killed_dropping_days, killed_copying,
        killed_looking_for_damage, killed_delivering, killed_importing, import_killed, ended_in_order, power_cut, disk_lied,
        disk_full, disk_full_at_start, disk_read_only, bit_flipped, backup_put_back, broker_stopped, broker_killed,
        broker_hangs, acknowledgements_lost, connection_cut, noise, mirror_in_a_mood, mail_in_a_mood, web_hook_in_a_mood,
        clock_jumps, clock_wrong_at_start, settings_changed, settings_broken,
    )
}  # fmt: skip
