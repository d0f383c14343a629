"""Faults of a catalog are reported, and updating brings catalogs up to date with the code."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.words.update import faults, new_catalog, placeholders, update

PLAIN = "{amount} casks"
COUNTED = ("{n} glass of {what}", "{n} glasses of {what}")


@pytest.mark.parametrize(
    ("string", "fault"),
    [
        ("{amount} barriles", None),
        ("", "untranslated"),
        ("barriles", "other placeholders"),
        ("{amount} {age} barriles", "other placeholders"),
    ],
)
def test_a_translation_fills_in_what_its_message_does(string: str, fault: str | None) -> None:
    template, catalog = new_catalog(None), new_catalog("es")
    template.add(PLAIN)
    catalog.add(PLAIN, string)
    found = list(faults(template, catalog))
    assert (found == []) if fault is None else found[0].startswith(fault)


@pytest.mark.parametrize(
    ("strings", "whole"),
    [
        (("{n} copa de {what}", "{n} copas de {what}"), True),
        (("una copa de {what}", "{n} copas de {what}"), True),
        (("{n} copa de {what}", "copas de {what}"), False),
        (("{n} copa", "{n} copas de {what}"), False),
        (("{n} copa de {what}", ""), False),
    ],
)
def test_only_the_form_for_one_may_leave_the_number_out(strings: tuple[str, str], whole: bool) -> None:
    template, catalog = new_catalog(None), new_catalog("es")
    template.add(COUNTED)
    catalog.add(COUNTED, strings)
    assert (list(faults(template, catalog)) == []) is whole


def test_missing_fuzzy_and_unused_messages_are_faults() -> None:
    template, catalog = new_catalog(None), new_catalog("es")
    template.add("new")
    template.add("unsure")
    catalog.add("unsure", "dudoso", flags=["fuzzy"])
    catalog.add("old", "viejo")
    assert sorted(fault.split(":")[0] for fault in faults(template, catalog)) == [
        "fuzzy",
        "missing",
        "no longer used",
    ]


def test_a_stray_brace_is_an_error() -> None:
    with pytest.raises(ValueError, match="expected"):
        placeholders("a { brace")


def test_updating_twice_changes_nothing_and_keeps_translations(tmp_path: Path) -> None:
    (tmp_path / "kiosk").mkdir()
    (tmp_path / "kiosk" / "a.py").write_text('_("Sold out")\nngettext("{n} cask", "{n} casks", 2)\n')
    catalog = tmp_path / "locales" / "es" / "LC_MESSAGES" / "kiosk.po"
    catalog.parent.mkdir(parents=True)
    (tmp_path / "locales" / "babel.cfg").write_text("[python: kiosk/**.py]\n")
    catalog.write_text(
        'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8"\n\nmsgid "Sold out"\nmsgstr "Agotado"\n'
    )
    assert [fault.split(": ")[1] for fault in update(tmp_path)] == ["untranslated"]
    once = catalog.read_text(encoding="utf-8")
    update(tmp_path)
    assert catalog.read_text(encoding="utf-8") == once
    assert "Agotado" in once
