"""Reads the settings of a stop: `stop.toml`, the shipped one and the site's own, merged by key."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from kiosk.site import values
from kiosk.site.content.pages import Page
from kiosk.site.toml_reader import REQUIRED, Setting, Where, read_table
from kiosk.words.catalogs import N_

PAGES = ("guest", "guide", "safety", "questions")
AT_THE_DOOR = "at the door"
PHONES = ("yes", AT_THE_DOOR)
PROTECTION = ("closed_shoes", "eyes", "ears", "hair_tied", "hard_hat", "high_visibility", "sun_hat")

_VAPOUR = ("still", "cask", "blend", "bottl")
_NOT_GIVEN = object()


@dataclass(frozen=True, slots=True)
class Stop:
    """A place on the route: its names, what a guest must know before it, and its pages.

    `protection` holds codes of PROTECTION, `steps` the steps up or down on the
    guests' way, `smell` whether it smells of alcohol, `holds` the most people,
    `after` the stops that must come before it, `figures` the names of those shown
    here first, `pages` its pages by (page, language), page being one of PAGES, `count_heads` whether
    the guide counts heads before the group goes on.
    """

    slug: str
    names: Mapping[str, str]
    phones: str
    protection: tuple[str, ...]
    steps: int
    seats: bool
    noise: bool
    smell: bool
    standing_minutes: int
    minutes: int
    least_minutes: int
    may_be_dropped: bool
    holds: int
    after: tuple[str, ...]
    figures: tuple[str, ...]
    pages: Mapping[tuple[str, str], Page]
    count_heads: bool = False

    @property
    def at_the_door(self) -> bool:
        """Whether phones stay at the door."""
        return self.phones == AT_THE_DOOR


_NAME = N_("a name for each of the site's languages")

STOP = (
    Setting("names", values.by_language, _NAME, "The stop's name."),
    values.choice(
        "phones", PHONES, "May phones be used inside? Where alcohol vapour gathers they stay at the door."
    ),
    values.choices_of("protection", PROTECTION, "What everybody wears.", default=()),
    values.whole_number("steps", 0, 500, "Steps on the way."),
    values.true_or_false("seats", "Is there a seat for everybody who wants one?"),
    values.true_or_false("noise", "Must one raise the voice to be heard?"),
    values.true_or_false("smell", "Does it smell of alcohol?", default=False),
    values.true_or_false(
        "count_heads", "Does the guide count heads here? Where phones stay at the door, always.", default=None
    ),
    values.whole_number("standing_minutes", 0, 240, "Minutes on one's feet.", default=0),
    values.whole_number("minutes", 0, 240, "Planned minutes."),
    values.whole_number("least_minutes", 0, 240, "The least that still does."),
    values.true_or_false("may_be_dropped", "May a late tour leave it out?"),
    values.whole_number("holds", 1, 500, "The most people at once."),
    Setting("after", values.list_of(values.slug), N_("a list of stops"), "What comes before.", ()),
    Setting(
        "figures",
        values.list_of(values.matching(r"[a-z][a-z0-9_]*")),
        N_("a list of figures"),
        "What is counted and measured here: shown beside the pages and on the wall.",
        default=(),
    ),
    Setting(
        "drop", values.list_of(values.slug), N_("a list of ids of questions"), "Shipped ones left out.", ()
    ),
)


def merge_stop(
    slug: str, tables: Iterable[tuple[Mapping[str, Any], Where]], languages: Sequence[str]
) -> dict[str, Any] | None:
    """Return the settings of a stop from its files, later ones over earlier; None when one has a fault.

    What no file gives takes its default; `phones` has one only where vapour
    gathers, because a vapour zone must never depend on a missing setting.
    """
    partial = tuple(replace(setting, default=_NOT_GIVEN) for setting in STOP)
    merged: dict[str, Any] = {}
    last: Where | None = None
    right = True
    for table, where in tables:
        read = read_table(table, partial, where)
        right = right and read is not None
        given = {name: value for name, value in (read or {}).items() if value is not _NOT_GIVEN}
        given["names"] = {**merged.get("names", {}), **given.get("names", {})}
        merged, last = {**merged, **given}, where
    if last is None or not right:
        return None
    return _completed(slug, merged, languages, last)


def _completed(
    slug: str, merged: dict[str, Any], languages: Sequence[str], where: Where
) -> dict[str, Any] | None:
    before = len(where.faults)
    for setting in STOP:
        default = AT_THE_DOOR if setting.name == "phones" and _has_vapour(slug) else setting.default
        if setting.name not in merged and default is REQUIRED:
            where.at(setting.name).missing(setting.allowed, **setting.facts)
        merged.setdefault(setting.name, default)
    merged["count_heads"] = merged["count_heads"] or merged.get("phones") == AT_THE_DOOR
    for language in languages:
        if language not in merged["names"]:
            where.at("names", language).missing(_NAME)
    if len(where.faults) == before and merged["least_minutes"] > merged["minutes"]:
        at = where.at("least_minutes")
        at.note(merged["least_minutes"], values.WHOLE, low=0, high=merged["minutes"])
    return merged if len(where.faults) == before else None


def _has_vapour(slug: str) -> bool:
    return any(slug.startswith(room) or f"-{room}" in slug for room in _VAPOUR)
