"""Finds every message of the house and says what a catalog lacks of them.

`python -m kiosk.words.update`: bring locales/ up to date with the code.

Run it from a checkout after writing or changing a message. It extracts every
message into `locales/kiosk.pot` and merges that into each
`locales/<language>/LC_MESSAGES/kiosk.po`: new messages arrive untranslated,
unused ones leave. Then translate, following `locales/terms.md`;
`tests/words/test_catalogs_whole.py` fails until nothing is missing.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from string import Formatter

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import read_po, write_po

KEYWORDS: dict[str, tuple[int, ...] | None] = {
    "_": None,
    "N_": None,
    "gettext": None,
    "ngettext": (1, 2),
    "NN_": (1, 2),
    "FigureError": (3,),  # what is allowed, which the figures say in plain English
}
"""The names that mark a message, and which of their arguments are one."""

# A date that never moves keeps the template the same until a message changes.
MADE = datetime(2026, 1, 1, tzinfo=UTC)


HEADER = """\
# Messages of Kiosk. Same license as the project.
# Terms: see terms.md. Update: python -m kiosk.words.update"""


def extracted(root: Path) -> Catalog:
    """Return a template of every message in the source tree at `root`."""
    with (root / "locales" / "babel.cfg").open(encoding="utf-8") as file:
        methods, options = parse_mapping_cfg(file)  # type: ignore[no-untyped-call]
    template = new_catalog(None)
    found = extract_from_dir(root, methods, options, KEYWORDS)
    for file_name, _line, message, comments, context in found:
        template.add(message, None, [(file_name, 0)], auto_comments=comments, context=context)
    return template


def new_catalog(language: str | None) -> Catalog:
    """Return an empty catalog of the house, the template when no language is given."""
    return Catalog(
        locale=language,
        project="Kiosk",
        version="1",
        header_comment=HEADER,
        copyright_holder="the Kiosk authors",
        msgid_bugs_address="none",
        last_translator="the Kiosk authors",
        language_team="the Kiosk authors",
        creation_date=MADE,
        revision_date=MADE,
        charset="utf-8",
        fuzzy=False,
    )


def placeholders(text: str) -> frozenset[str]:
    """Return the names that a message has filled in; ValueError for a stray brace."""
    return frozenset(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def faults(template: Catalog, catalog: Catalog) -> Iterator[str]:
    """Yield what keeps a catalog from being whole: missing, untranslated, fuzzy, or other placeholders."""
    wanted = {_key(message) for message in template if message.id}
    for message in catalog:
        if message.id and _key(message) not in wanted:
            yield f"no longer used: {message.id!r}"
    for message in template:
        if not message.id:
            continue
        found = catalog.get(_singular(message), message.context)
        if found is None or found.id != message.id:
            yield f"missing: {message.id!r}"
        elif found.fuzzy:
            yield f"fuzzy: {message.id!r}"
        else:
            yield from _text_faults(found)


def _text_faults(message: Message) -> Iterator[str]:
    strings = [message.string] if isinstance(message.string, str) else list(message.string or [""])
    sources = [message.id] if isinstance(message.id, str) else list(message.id)
    allowed = frozenset().union(*(placeholders(source) for source in sources)) | _counted(message)
    needed = placeholders(sources[-1])
    if not all(strings):
        yield f"untranslated: {message.id!r}"
        return
    for string in strings:
        if not needed - _counted(message) <= placeholders(string) <= allowed:
            yield f"other placeholders: {message.id!r}: {string!r}"
    if needed - placeholders(strings[-1]):
        yield f"placeholders lost: {message.id!r}: {strings[-1]!r}"


def _counted(message: Message) -> frozenset[str]:
    """A form for one may say the number in words."""
    return frozenset({"n"}) if message.pluralizable else frozenset()


def _singular(message: Message) -> str:
    return str(message.id if isinstance(message.id, str) else message.id[0])


def _key(message: Message) -> tuple[object, object]:
    return message.id, message.context


ROOT = Path(__file__).resolve().parents[2]


def update(root: Path) -> list[str]:
    """Write the template and every catalog under `root`; return what is left to translate."""
    template = extracted(root)
    write(template, root / "locales" / "kiosk.pot")
    left = []
    for path in sorted((root / "locales").glob("*/LC_MESSAGES/kiosk.po")):
        catalog = read(path)
        catalog.update(template, no_fuzzy_matching=True, update_creation_date=False)
        catalog.obsolete.clear()
        write(catalog, path)
        left += [f"{path.relative_to(root)}: {fault}" for fault in faults(template, catalog)]
    return left


def read(path: Path) -> Catalog:
    """Read a catalog; its language is its folder's name."""
    with path.open("rb") as file:
        return read_po(file, locale=path.parent.parent.name)


def write(catalog: Catalog, path: Path) -> None:
    """Write a catalog in an order and form that only changes with its messages."""
    with path.open("wb") as file:
        write_po(file, catalog, width=100, sort_output=True, include_lineno=False, ignore_obsolete=True)


def main() -> int:
    """Update the catalogs of this checkout and say what is left."""
    left = update(ROOT)
    print("\n".join(left) or "Every catalog is whole.")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
