"""TOML: whole configurations, rules of one's own, rules of duration, and `--set`; the first byte says which.

A configuration that was loaded keeps its meaning when its settings are kept and read, and when a value is put into its text.
"""

import tomllib

from monitor.configuration import canonical_settings, edited, load_text, set_key, settings_of
from monitor.model.errors import ConfigurationError
from monitor.proof.rules import parse_duration_rule, parse_rule, rule_ids, rule_text
from tests.fuzz.contract import ROOT, Parser, room, text_of

RULES = rule_ids()
VALUE = {("site", "time_zone"): "Europe/Paris", ("bins", "b1", "thresholds", "overheating"): "82 degF"}


def _configuration(text):
    found = load_text(text, room() / "heaptender.toml", {}, rules=RULES)
    kept = canonical_settings(found.settings)
    assert canonical_settings(settings_of(kept)) == kept


def _edited(text):
    after = edited(text, VALUE)
    assert tomllib.loads(after)["site"]["time_zone"] == "Europe/Paris"
    assert edited(after, VALUE) == after


BASE = load_text((ROOT / "config" / "heaptender.minimal.toml").read_text(), None, {}, rules=RULES)
READ = {
    b"c": _configuration,
    b"e": _edited,
    b"r": lambda text: parse_rule(text, "own.toml", "own"),
    b"d": lambda text: parse_duration_rule(text, "own.toml", "own"),
    b"s": lambda text: set_key(BASE, text),
}


def read(data):
    """Read the TOML that an input is."""
    if data[:1] in READ:
        READ[data[:1]](text_of(data[1:]))


PARSER = Parser(
    read,
    allowed=(ConfigurationError,),
    seeds=(
        b"c" + (ROOT / "config" / "heaptender.minimal.toml").read_bytes(),
        b'c[site]\ntime_zone="UTC"\n[piles.p1]\nrule="us-112-54-turned"\nspots=["a","b"]\n[piles.p1.thresholds]\nhold="131 degF"\n[bins.b1]\n[probes.x]\nplace="p1"\nrole="core"\ndepth="2 ft"\n',
        b'c[contacts.ann]\nname="Ann"\nchannels=["page"]\nduty="Mo-Fr 08:00-18:00"\nquiet="none"\n[backup]\nfolder="data/c"\nevery="24h"\nkeep=3\n[retention]\nkeep="400d"\n[photos]\nmost="5 MB"\n',
        b'c[mqtt]\nhost="h"\n[[mqtt.subscriptions]]\ntopic="n/{probe}"\nform="json"\nvalue="/t"\n[[serial]]\nport="/dev/ttyS9"\n[mirror]\nurl="http://h:1"\n[page]\nlisten="127.0.0.1:8080"\n',
        b'e[site]\ntime_zone="UTC" # x\n[bins]\nb1={name="x"}\n',
        b'e[bins.b1]\r\nname="x"\r\n[site]\r\n',
        b"r" + rule_text("us-112-54-turned").encode(),
        b"d" + b'name="x"\nsource="s"\nstatus="from memory"\ndays=90\n',
        b"sbins.b1.overheating=82 degF",
        b'spiles."p1".rule="us-112-54-turned"',
        b"smqtt.port=1883",
    ),
    words=(
        b"[site]\n",
        b"[bins.b1]\n",
        b"[piles.p1.thresholds]\n",
        b"[[serial]]\n",
        b"[page]\n",
        b"[rules.confirmed.own]\n",
        b'[channels.x]\nurl="',
        b"[lots]\n",
        b"[beds.b1]\n",
        b"[containers]\n",
        b"[evening]\n",
        b"[heartbeat]\n",
        b"[thermometers.d1]\n",
        b"overheating=",
        b'"82 degF"',
        b"2026-07-19",
        b'"""',
        b"'''",
        b"= [[[[",
        b"= {a.b={",
        b"inf",
        b"nan",
        b"1e400",
        b"0x7fffffffffffffff",
        b"\\u0000",
        b"\\ud800",
        b"[[alternatives]]",
        b"[[conditions]]",
        b"kind=",
        b"at_least=",
        b'time_zone="',
        b"calibration=",
        b"checked=",
    ),
    longest=3000,
)
