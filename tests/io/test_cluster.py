"""`tune --cluster` with a real scheduler and real workers: the answer of this computer alone, or a sentence."""

import csv
import shutil
import subprocess
import sys
import time

import pytest
from brokers import find_free_port
from dask_cluster import HERE, DaskCluster, needed

from monitor.app.cluster import at_cluster, likeness, unlike_words
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.times import show_time

pytestmark = pytest.mark.io

DAY = 86_400_000
T0 = 1_775_433_600_000  # 2026-04-06T00:00:00Z, a Monday
VARY = ("--vary", "bins.b1.overheating=80..84 degF:1", "--vary", "bins.b1.overheating_dwell=30..60m:30")

YARD = """[site]
name = "Tern Hollow allotments"
time_zone = "UTC"
[bins.b1]
name = "Wall bin"
[probes.b1-t]
place = "b1"
"""


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """Three weeks of a bin that is hot on every third day, and labels for these."""
    folder = tmp_path_factory.mktemp("yard")
    (folder / "heaptender.toml").write_text(YARD)
    hot = range(3, 21, 3)
    with (folder / "readings.csv").open("w", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["time", "probe", "quantity", "value", "unit"])
        for time in range(T0, T0 + 21 * DAY, 30 * 60_000):
            day, hour = divmod((time - T0) // 3_600_000, 24)
            rows.writerow([show_time(time), "b1-t", "temperature", 29 if day in hot and 12 <= hour < 18 else 21, "Cel"])
    with (folder / "labels.csv").open("w", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["place", "start", "end", "kind", "note"])
        for day in hot:
            start = T0 + day * DAY + 15 * 3_600_000
            rows.writerow(["b1", show_time(start), show_time(start + 4 * 3_600_000), "trouble", "too hot"])
    return folder


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    needed()
    made = DaskCluster(tmp_path_factory.mktemp("dask"))
    try:
        yield made.join(2)
    finally:
        made.close()


def tune(yard, *words):
    files = ("readings.csv", "labels.csv", "--config", "heaptender.toml")
    return subprocess.run(
        [sys.executable, "-m", "monitor", "tune", *files, *VARY, *words, "--json"],
        cwd=yard, env=None, capture_output=True, text=True, timeout=120,
    )  # fmt: skip


def test_the_answer_is_that_of_this_computer_byte_for_byte(yard, cluster):
    alone, spread = tune(yard, "--workers", "1"), tune(yard, "--cluster", cluster.address)
    assert (spread.stderr, spread.returncode) == ("", 0)
    assert spread.stdout == alone.stdout
    assert '"rows"' in spread.stdout
    assert "Run out-of-band function 'runs'" in cluster.log  # the workers were asked what they run


def test_a_worker_with_another_source_is_refused(yard, cluster, tmp_path):
    shutil.copytree(HERE / "monitor", tmp_path / "other" / "monitor", ignore=shutil.ignore_patterns("__pycache__"))
    with (tmp_path / "other" / "monitor" / "engine" / "meaning.py").open("a") as file:
        file.write("# another meaning\n")
    other = DaskCluster(tmp_path)
    try:
        other.join(source=tmp_path / "other")
        unlike = refused(other.address, MisuseError)
        shutil.rmtree(tmp_path / "other" / "monitor" / "app" / "cluster")
        other.end_workers()
        nobody = refused(other.address, UnavailableError)
        older = refused(other.join(source=tmp_path / "other").address, MisuseError)
    finally:
        other.close()
    assert "runs another Heaptender of the same number" in unlike
    assert "every worker needs what this computer runs" in unlike
    assert nobody == f"The scheduler at {other.address} has no workers; start some: `dask worker {other.address}`."
    assert "has no Heaptender, or an older one that cannot be asked" in older


def test_a_scheduler_that_is_lost_meanwhile_is_told_in_a_sentence(tmp_path):
    needed()
    made = DaskCluster(tmp_path).join()

    def lose_it():
        with at_cluster(made.address) as cluster:
            answers = cluster.executor.map(time.sleep, [0, 600])
            assert next(answers) is None
            made.end_scheduler()
            next(answers)

    try:
        with pytest.raises(UnavailableError, match="was lost before the work was done"):
            lose_it()
    finally:
        made.close()


def refused(address, kind):
    with pytest.raises(kind) as fault, at_cluster(address):
        pass
    return str(fault.value)


@pytest.mark.parametrize(
    ("address", "kind", "sentence"),
    [
        (
            "nonsense",
            MisuseError,
            "'nonsense' is no address of a scheduler; an address is that which `dask scheduler` prints",
        ),
        ("tcp://127.0.0.1:{free}", UnavailableError, "No scheduler answers at tcp://127.0.0.1:{free} within 5 s;"),
    ],
)
def test_a_scheduler_that_is_none_is_told_in_a_sentence(address, kind, sentence):
    needed()
    free = find_free_port()
    assert sentence.format(free=free) in refused(address.format(free=free), kind)


def test_a_cluster_has_its_own_number_of_workers(yard):
    run = tune(yard, "--cluster", "tcp://127.0.0.1:1", "--workers", "2")
    assert run.returncode == 2
    assert "--workers is for this computer alone" in run.stderr


def test_without_the_extra_it_says_what_to_install(yard, tmp_path):
    (tmp_path / "sitecustomize.py").write_text(
        "import importlib.util as u\nfind = u.find_spec\n"
        "u.find_spec = lambda name, *more: None if name == 'distributed' else find(name, *more)\n"
    )
    words = [
        sys.executable,
        "-m",
        "monitor",
        "tune",
        "readings.csv",
        "--config",
        "heaptender.toml",
        "--cluster",
        "tcp://127.0.0.1:1",
    ]
    run = subprocess.run(
        words, cwd=yard, env={"PYTHONPATH": f"{tmp_path}:{HERE}"}, capture_output=True, text=True, timeout=60
    )
    assert run.returncode == 2
    assert run.stderr == "Work on a cluster needs the extra `fleet`: pip install 'heaptender[fleet]'.\n"


@pytest.mark.parametrize(
    ("part", "value", "words"),
    [
        ("python", "3.9", "runs Python 3.9, and this computer {python}"),
        ("release", "0.0.1", "runs Heaptender 0.0.1, and this computer {release}"),
        ("source", "00", "runs another Heaptender of the same number ({release}): its source differs"),
        ("numpy", "1.0", "runs numpy 1.0, and this computer {numpy}"),
    ],
)
def test_each_difference_has_its_words(part, value, words):
    here = likeness()
    assert unlike_words(here, here) == ""
    assert unlike_words(here, here._replace(**{part: value})) == words.format(**here._asdict())
