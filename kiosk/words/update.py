"""`python -m kiosk.words.update`: bring locales/ up to date with the code.

Run it from a checkout after writing or changing a message. It extracts every
message into `locales/kiosk.pot` and merges that into each
`locales/<language>/LC_MESSAGES/kiosk.po`: new messages arrive untranslated,
unused ones leave. Then translate, following `locales/terms.md`;
`tests/words/test_catalogs_whole.py` fails until nothing is missing.
"""

from __future__ import annotations

import sys
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

from kiosk.words.extraction import extracted, faults

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
