"""The manual's page on service rules is true: every key stands on it, and every example reads."""

from __future__ import annotations

import re
import tomllib

import pytest

from kiosk.figures.drinks import STANDARD_DRINKS, Kind
from kiosk.site.policy import HOURS, LIMIT, SERVICE
from kiosk.site.shipped import shipped
from tests.site.policies import policy_from

PAGES = {
    code: (shipped("content") / "manual" / f"rules.{code}.md").read_text(encoding="utf-8")
    for code in ("en", "es")
}
LAWS = sorted((shipped("content") / "laws").glob("*.toml"))
EXAMPLE = re.compile(r"### `(\w+)`.*?```toml\n(.*?)```", re.DOTALL)
EXAMPLES = EXAMPLE.findall(PAGES["en"])
US = STANDARD_DRINKS["US"]


def keys(page: str, heading: str) -> list[str]:
    """Return the keys that the table under a heading explains."""
    section = page.partition(f"## `{heading}`\n")[2].partition("\n##")[0]
    return re.findall(r"^\| `(\w+)` \|", section, re.MULTILINE)


@pytest.mark.parametrize("language", PAGES)
@pytest.mark.parametrize(
    ("heading", "declared"),
    [("[service]", SERVICE), ("[[service.hours]]", HOURS), ("[[service.limit]]", LIMIT)],
)
def test_every_key_is_explained_and_no_other(heading, declared, language):
    assert sorted(keys(PAGES[language], heading)) == sorted(setting.name for setting in declared)


def read(toml: str):
    table = tomllib.loads(toml)["service"]
    return policy_from({"guest_age": 21, "basis": "house rule", "year": 2026, **table}, US)


def test_every_kind_of_limit_has_an_example():
    assert [Kind(kind) for kind, _ in EXAMPLES] == list(Kind)


def test_the_examples_are_the_same_in_both_languages():
    assert EXAMPLE.findall(PAGES["es"]) == EXAMPLES


@pytest.mark.parametrize(("kind", "toml"), EXAMPLES)
def test_an_example_reads_as_its_kind(kind, toml):
    assert {limit.kind for limit in read(toml).limits} == {Kind(kind)}


def test_every_key_of_a_limit_is_used_in_an_example():
    used = {key for _, toml in EXAMPLES for limit in tomllib.loads(toml)["service"]["limit"] for key in limit}
    assert used == {setting.name for setting in LIMIT}


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.stem)
def test_every_law_reads_is_listed_and_names_its_text(law):
    text = law.read_text(encoding="utf-8")
    assert re.match(r"# .+: .+\b(read|copy|from memory)\b", text)
    table = tomllib.loads(text)
    assert list(table) == ["service"]
    assert policy_from(table["service"], US).basis
    assert all(f"(../laws/{law.name})" in page for page in PAGES.values())


@pytest.mark.parametrize("language", PAGES)
def test_every_listed_law_has_its_file(language):
    listed = re.findall(r"\(\.\./laws/([\w-]+\.toml)\)", PAGES[language])
    assert sorted(listed) == [law.name for law in LAWS]
