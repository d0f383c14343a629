"""Writes the tables of the manual's page on records: `python -m tests.production.records.reference`."""

from __future__ import annotations

from collections.abc import Iterator

from kiosk.production.records.fields import Field, Type
from kiosk.production.records.kinds import KINDS, Kind
from kiosk.site.shipped import shipped
from kiosk.words.catalogs import Words, load_words

PAGES = {code: shipped("content") / "manual" / f"records.{code}.md" for code in ("en", "es")}
HEADINGS = {"en": "## The files\n\n", "es": "## Los archivos\n\n"}
PLAIN = {
    "en": {
        "head": "| heading | may stay empty | what it holds | on the screen |",
        "empty": "yes",
        "instrument": "the number of an instrument, or",
        "range": "{} to {}",
        "day": "a day",
        "moment": "a time",
        "code": "a code",
        "words": "words",
    },
    "es": {
        "head": "| encabezado | puede quedar vacío | qué lleva | en pantalla |",
        "empty": "sí",
        "instrument": "el número de un instrumento, o",
        "range": "de {} a {}",
        "day": "un día",
        "moment": "fecha y hora",
        "code": "un código",
        "words": "texto",
    },
}


def tables(language: str) -> str:
    """Return one table for each kind of record, in a language of the manual."""
    words = load_words(shipped("locales"), language, language)
    return "\n\n".join("\n".join(_lines(kind, words)) for kind in KINDS) + "\n"


def _lines(kind: Kind, words: Words) -> Iterator[str]:
    plain = PLAIN[words.language]
    yield f"### {kind.file}: {words.gettext(kind.title)}\n"
    yield plain["head"]
    yield "|---|---|---|---|"
    for field in kind.fields:
        empty = "" if field.needed else plain["empty"]
        label = words.gettext(field.label)
        yield f"| `{field.name}` | {empty} | {_allowed(field, plain)} | {label} |"


def _allowed(field: Field, plain: dict[str, str]) -> str:
    if field.allowed:
        codes = ", ".join(f"`{one}`" for one in field.allowed)
        return f"{plain['instrument']} {codes}" if field.type is Type.INSTRUMENT else codes
    if field.type in (Type.NUMBER, Type.WHOLE):
        low, high = (f"{limit:,.0f}".replace(",", "\u202f") for limit in (field.low, field.high))
        return plain["range"].format(low, high)
    return plain[field.type]


if __name__ == "__main__":
    for code, page in PAGES.items():
        before = page.read_text(encoding="utf-8").partition(HEADINGS[code])[0]
        page.write_text(before + HEADINGS[code] + tables(code), encoding="utf-8")
