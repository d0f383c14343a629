"""Brings the catalogs in locales/ up to date with the code: `python -m tests.words.update`.

Run it from a checkout after writing or changing a message. It extracts every
message into `locales/kiosk.pot` and merges that into each
`locales/<language>/LC_MESSAGES/kiosk.po`: new messages are added untranslated,
unused ones are removed. Then translate, following `locales/terms.md`;
`tests/words/test_catalogs_whole.py` fails until nothing is missing.
"""

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
}
"""The functions whose arguments are messages, and which of their arguments are."""

# A fixed date keeps the template the same until a message changes.
DATE = datetime(2026, 1, 1, tzinfo=UTC)

ROOT = Path(__file__).resolve().parents[2]

HEADER = """\
# Messages of Kiosk. Same license as the project.
# Terms: see terms.md. Update: python -m tests.words.update"""


def extracted(root: Path) -> Catalog:
    """Return a template of every message in the source tree at `root`."""
    with (root / "locales" / "babel.cfg").open(encoding="utf-8") as file:
        methods, options = parse_mapping_cfg(file)  # type: ignore[no-untyped-call]
    template = new_catalog(None)
    for file_name, _line, message, comments, context in extract_from_dir(root, methods, options, KEYWORDS):
        template.add(message, None, [(file_name, 0)], auto_comments=comments, context=context)
    return template


def new_catalog(language: str | None) -> Catalog:
    """Return an empty catalog of a language, or an empty template when `language` is None."""
    return Catalog(
        locale=language,
        project="Kiosk",
        version="1",
        header_comment=HEADER,
        copyright_holder="the Kiosk authors",
        msgid_bugs_address="none",
        last_translator="the Kiosk authors",
        language_team="the Kiosk authors",
        creation_date=DATE,
        revision_date=DATE,
        fuzzy=False,
    )


def placeholders(text: str) -> frozenset[str]:
    """Return the names in braces in a message. Raises ValueError for a stray brace."""
    return frozenset(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def faults(template: Catalog, catalog: Catalog) -> Iterator[str]:
    """Yield a line for each fault of a catalog: missing, unused, untranslated, fuzzy, wrong placeholders."""
    wanted = {(message.id, message.context): message for message in template if message.id}
    present = {(message.id, message.context): message for message in catalog if message.id}
    yield from (
        f"no longer used: {message!r}" for message, context in present if (message, context) not in wanted
    )
    for key, message in wanted.items():
        if key not in present:
            yield f"missing: {message.id!r}"
        elif present[key].fuzzy:
            yield f"fuzzy: {message.id!r}"
        else:
            yield from _text_faults(present[key])


def _text_faults(message: Message) -> Iterator[str]:
    strings = [message.string] if isinstance(message.string, str) else list(message.string or [""])
    sources = [message.id] if isinstance(message.id, str) else list(message.id)
    optional = {"n"} if message.pluralizable else set()  # a form for one may write the number as a word
    allowed = optional.union(*(placeholders(source) for source in sources))
    needed = placeholders(sources[-1])
    if not all(strings):
        yield f"untranslated: {message.id!r}"
        return
    for string in strings:
        if not needed - optional <= placeholders(string) <= allowed:
            yield f"other placeholders: {message.id!r}: {string!r}"
    if needed - placeholders(strings[-1]):
        yield f"placeholders lost: {message.id!r}: {strings[-1]!r}"


def update(root: Path) -> list[str]:
    """Write the template and every catalog under `root`; return a line for each message left to translate."""
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
    """Return the catalog in a file; its language is the name of the folder of LC_MESSAGES."""
    with path.open("rb") as file:
        return read_po(file, locale=path.parent.parent.name)


def write(catalog: Catalog, path: Path) -> None:
    """Write a catalog to a file, sorted, so that the file changes only with its messages."""
    with path.open("wb") as file:
        write_po(file, catalog, width=100, sort_output=True, include_lineno=False, ignore_obsolete=True)


def main() -> int:
    """Update the catalogs of this checkout, print what is left, and return the exit status."""
    left = update(ROOT)
    print("\n".join(left) or "Every catalog is whole.")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
