"""Bringing catalogs up to date."""

from __future__ import annotations

from pathlib import Path

from kiosk.words.update import update


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
