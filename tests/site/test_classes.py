"""A strength below the least of the product's class in law is told, with the place and the remedy."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.site.check import check_site
from kiosk.site.shipped import shipped


def told(folder: Path, old: str, new: str) -> list[str]:
    """Change the demo's products and return what the check says of them."""
    products = folder / "products.toml"
    source = (shipped("demo_site") / "products.toml").read_text(encoding="utf-8")
    assert old in source
    products.write_text(source.replace(old, new, 1), encoding="utf-8")
    return [fault.sentence() for fault in check_site(folder) if fault.file == "products.toml"]


@pytest.mark.parametrize(
    ("old", "new", "law", "least"),
    [
        # Rum in Europe and not in the United States.
        ("abv_percent = 40.0", "abv_percent = 38.0", "us_rum", "40"),
        ("abv_percent = 32.0", "abv_percent = 29.9", "us_flavored_rum", "30"),
        ("abv_percent = 26.0", "abv_percent = 14.5", "eu_liqueur", "15"),
    ],
)
def test_a_product_weaker_than_its_class_is_told(
    folder: Path, old: str, new: str, law: str, least: str
) -> None:
    (sentence,) = told(folder, old, new)
    assert "abv_percent" in sentence
    assert "products.toml" in sentence
    assert f"at least {least}" in sentence
    assert law in sentence


def test_what_is_neither_rum_here_nor_there_is_told_twice(folder: Path) -> None:
    sentences = told(folder, "abv_percent = 40.0", "abv_percent = 26.0")
    assert [("us_rum" in one, "eu_rum" in one) for one in sentences] == [(True, False), (False, True)]


def test_the_least_strength_itself_is_enough(folder: Path) -> None:
    assert told(folder, "abv_percent = 32.0", "abv_percent = 30.0") == []


def test_a_class_that_stands_in_no_table_is_told_with_those_that_do(folder: Path) -> None:
    (sentence,) = told(folder, '["us_flavored_rum"]', '["us_cordial"]')
    assert "us_cordial" in sentence
    assert "us_flavored_rum" in sentence


def test_the_sites_own_table_goes_before_the_shipped_one(folder: Path) -> None:
    (folder / "content").mkdir(exist_ok=True)
    (folder / "content" / "facts.toml").write_text(
        '[least_strength_us_flavored_rum]\nvalue = 35\nsource = "a later text"\nstatus = "house"\n',
        encoding="utf-8",
    )
    (sentence,) = told(folder, "abv_percent = 40.0", "abv_percent = 40.0")
    assert "at least 35" in sentence
