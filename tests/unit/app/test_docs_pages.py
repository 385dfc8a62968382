"""The pages hold together: links lead somewhere, files that are named exist, examples load, decisions are listed."""

import re
import tomllib
from pathlib import Path

import pytest

from monitor.configuration import load_text
from monitor.proof.rules import duration_rule_ids, rule_ids

ROOT = Path(__file__).parents[3]
PAGES = sorted(
    path
    for pattern in ("*.md", "docs/**/*.md", "firmware-notes/*.md", "demo-data/*.md", "config/*.md")
    for path in ROOT.glob(pattern)
)
NAMES = [str(path.relative_to(ROOT)) for path in PAGES]
FENCED = re.compile(r"^```.*?^```$", re.DOTALL | re.MULTILINE)
PACKAGES = sorted(path.parent.name for path in (ROOT / "monitor").glob("*/__init__.py"))


def anchors(text):
    slugs = {
        re.sub(r"[^\w\- ]", "", head.strip().lower()).replace(" ", "-") for head in re.findall(r"^#+ (.+)$", text, re.M)
    }
    return slugs | set(re.findall(r'<a id="([^"]+)">', text))


def read(name):
    return (ROOT / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", NAMES)
def test_links_lead_somewhere(name):
    text = FENCED.sub("", read(name))
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if target.startswith(("http://", "https://", "mailto:")):
            continue
        path, _, anchor = target.partition("#")
        page = ((ROOT / name).parent / path).resolve() if path else ROOT / name
        assert page.exists(), f"{name}: {target}"
        if anchor:
            assert anchor in anchors(page.read_text(encoding="utf-8")), f"{name}: {target}"


@pytest.mark.parametrize("name", [name for name in NAMES if name not in ("docs/simulator.md", "docs/CHANGELOG.md")])
def test_program_files_that_are_named_exist(name):
    for path in re.findall(r"`((?:monitor/|tests/)?[a-z_]+(?:/[a-z_]+)*/[a-z_]+\.py)`", read(name)):
        assert (ROOT / path).exists() or (ROOT / "monitor" / path).exists(), f"{name}: {path}"


@pytest.mark.parametrize("name", ["README.md", "docs/architecture.md"])
def test_every_package_is_named(name):
    text = read(name)
    missing = [package for package in PACKAGES if f"`{package}/`" not in text and f"`monitor/{package}/`" not in text]
    assert [package for package in missing if (name, package) != ("README.md", "model")] == []


def test_the_readme_counts_the_rules():
    (heat, lasting) = re.search(r"turnings for (\d+) rules, .*?; (\w+) more, of duration", read("README.md")).groups()
    assert int(heat) == len(rule_ids())
    assert ["none", "one", "two", "three"].index(lasting) == len(duration_rule_ids())


@pytest.mark.parametrize("name", ["README.md", "docs/first-yard.md"])
def test_the_first_yards_configuration_loads(name):
    whole = [
        block
        for block in re.findall(r"^```toml\n(.*?)^```$", read(name), re.DOTALL | re.MULTILINE)
        if "[site]" in block
    ]
    assert whole
    for block in whole:
        configuration = load_text(block, Path("heaptender.toml"), {}, rules=rule_ids())
        assert configuration.mqtt is not None
        assert set(configuration.settings.probes) == {"p1-a", "b1-a"}


def test_every_decision_is_listed_under_its_title_and_has_the_form():
    folder = ROOT / "docs" / "decisions"
    status = r"(?:in force|replaced by \d+)(?:, with [\d and]+)?"
    table = rf"^\| (\d+) \| \[(.+)\]\((\d+)-([\w-]+)\.md\) \| \d{{4}}-\d{{2}}-\d{{2}} \| {status} \|$"
    listed = re.findall(table, read("docs/decisions/README.md"), re.MULTILINE)
    pages = sorted(folder.glob("[0-9]*.md"))
    assert [f"{padded}-{slug}.md" for _, _, padded, slug in listed] == [page.name for page in pages]
    for (number, title, padded, _), page in zip(listed, pages, strict=True):
        text = page.read_text(encoding="utf-8")
        assert int(padded) == int(number)
        assert text.startswith(f"# {number}. {title}\n")
        assert "**Question.**" in text
        assert "**Chosen.**" in text
        assert "**Price.**" in text


def test_no_number_of_a_decision_is_passed_over():
    numbers = [int(number) for number in re.findall(r"^\| (\d+) \|", read("docs/decisions/README.md"), re.MULTILINE)]
    assert numbers == [*range(1, len(numbers) + 1)]


def test_the_changelog_begins_with_this_version():
    version = tomllib.loads(read("pyproject.toml"))["project"]["version"]
    first = re.search(r"^## (\S+?),", read("docs/CHANGELOG.md"), re.MULTILINE)
    assert first is not None
    assert first[1] == version


def test_no_page_names_a_registry_or_where_an_idea_came_from():
    registries = ("pypi" + ".org", "pythonhosted" + ".org", "npmjs" + ".", "crates" + ".io", "conda" + ".anaconda")
    words = ("tran" + "script", "seed " + "document", "the " + "video")
    files = [*PAGES, *(ROOT / "config").glob("*.toml"), *(ROOT / "demo-data").glob("*.toml")]
    for path in files:
        text = path.read_text(encoding="utf-8").lower()
        found = [word for word in registries if word in text]
        found += [word for word in words if re.search(rf"\b{word}\b", text)]
        assert found == [], path
