"""What is wrong with a site's folder: where, what was found, what is allowed.

Sentences are written in the source language and translated when they are told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from kiosk.words.catalogs import N_

Gettext = Callable[..., str]

MISSING = ""
"""`Fault.found` when the thing is not there at all."""


def in_english(message: str, /, **values: object) -> str:
    """Fill in a message without translating it; the shape of `Words.gettext`."""
    return message.format(**values)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to put right.

    `file` is told relative to the site's folder (or as `content/...` where it
    ships), `line` counts from 1, `key` names the setting, slot or heading,
    `found` is what stands there, `allowed` a message for the catalogs that says
    what may stand there, with its {names} filled in from `facts`.
    """

    file: str
    line: int | None
    key: str
    found: str
    allowed: str
    facts: Mapping[str, object] = field(default_factory=dict)

    def sentence(self, gettext: Gettext = in_english) -> str:
        """Say where, what and the remedy in the language of `gettext`."""
        where = self.file
        if self.line is not None:
            where = gettext(N_("{file}, line {line}"), file=self.file, line=self.line)
        remedy = gettext(self.allowed, **self.facts)
        if self.found == MISSING:
            return gettext(N_("{where}: {key} is missing. Needed: {allowed}."), **self._said(where, remedy))
        return gettext(N_("{where}: {key}: found {found}. Allowed: {allowed}."), **self._said(where, remedy))

    def _said(self, where: str, remedy: str) -> dict[str, str]:
        return {"where": where, "key": self.key, "found": self.found.rstrip("."), "allowed": remedy}


class SiteFaults(Exception):
    """A site's folder cannot be used as it stands; holds every fault found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(fault.sentence() for fault in self.faults))
