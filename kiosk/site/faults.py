"""Faults of a site's folder: where, what stands there, what is allowed.

Sentences are written in the source language and translated when a fault is printed.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from kiosk.words.catalogs import N_

Gettext = Callable[..., str]

MISSING = ""
"""The value of `Fault.found` where nothing stands."""


def in_english(message: str, /, **values: object) -> str:
    """Return a message filled in without translation; called like `Words.gettext`."""
    return message.format(**values)


class FolderInUse(Exception):
    """Raised for a folder that already holds something, where a new or an empty one is wanted."""

    message = N_("{folder} is not empty. Name a folder that is new or empty.")

    def __init__(self, folder: Path) -> None:
        super().__init__(str(folder))
        self.facts = {"folder": str(folder)}


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a file.

    `file` is relative to the site's folder (or `content/...` for what ships),
    `line` counts from 1, `key` names the setting, slot or heading, `found` is
    what stands there, `allowed` a message for the catalogs with what may stand
    there, its {names} filled in from `facts`.
    """

    file: str
    line: int | None
    key: str
    found: str
    allowed: str
    facts: Mapping[str, object] = field(default_factory=dict)

    def sentence(self, gettext: Gettext = in_english) -> str:
        """Return place, fault and remedy as a sentence in the language of `gettext`."""
        where = self.file
        if self.line is not None:
            where = gettext(N_("{file}, line {line}"), file=self.file, line=self.line)
        allowed = gettext(self.allowed, **self.facts)
        if self.found == MISSING:
            message = N_("{where}: {key} is missing. Needed: {allowed}.")
            return gettext(message, where=where, key=self.key, allowed=allowed)
        message = N_("{where}: {key}: found {found}. Allowed: {allowed}.")
        return gettext(message, where=where, key=self.key, found=self.found.rstrip("."), allowed=allowed)


class SiteFaults(Exception):
    """Raised for a site's folder that cannot be used, with all its faults."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(fault.sentence() for fault in self.faults))
