"""Checks the pages of a stop: every language has the same headings and slots, and slots name known values."""

from collections import Counter
from collections.abc import Collection, Mapping
from difflib import get_close_matches
from itertools import takewhile

from kiosk.figures.figure import ON_DEMAND, Spec
from kiosk.site.content.pages import Page, Placed
from kiosk.site.content.stops import Stop
from kiosk.site.faults import MISSING, Fault
from kiosk.words.catalogs import N_

NEED_WORDS = ("guest", "safety", "questions")
"""Pages that guests read: each figure there has words for when its value is missing."""
_KNOWN = N_("a known name, such as {names}")


def check_twins(pages: Mapping[str, Page], faults: list[Fault]) -> None:
    """Compare each language of a page with the first: headings by level and id, slots under each."""
    first, *others = pages.values() or (Page(),)
    for other in others:
        if _headings(first) != _headings(other):
            faults.append(_heading_fault(first, other))
        else:
            _compare_slots(first, other, faults)


def _headings(page: Page) -> list[tuple[int, str]]:
    return [(heading.level, heading.id) for heading in page.headings]


def _heading_fault(first: Page, other: Page) -> Fault:
    pairs = zip(_headings(first), _headings(other), strict=False)
    same = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
    here = other.headings[same] if same < len(other.headings) else None
    there = first.headings[same] if same < len(first.headings) else None
    allowed = N_("the same headings as in {twin}: there {heading}")
    facts = {"twin": first.file, "heading": "#" * there.level + f" {there.text}" if there else "-"}
    found = "#" * here.level + f" {here.text}" if here else MISSING
    return Fault(other.file, here.line if here else None, "##", found, allowed, facts)


def _compare_slots(first: Page, other: Page, faults: list[Fault]) -> None:
    pairs = zip(first.slots_by_section(), other.slots_by_section(), strict=True)
    for section, (mine, theirs) in enumerate(pairs):
        if mine != theirs:
            line = other.headings[section - 1].line if section else 1
            facts = {"twin": first.file, "slots": _listed(mine)}
            allowed = N_("the same slots as in {twin} under this heading: {slots}")
            faults.append(Fault(other.file, line, "{}", _listed(theirs), allowed, facts))


def _listed(slots: Counter[str]) -> str:
    return ", ".join(sorted(slots.elements())) or "-"


def check_slots(
    pages: Mapping[tuple[str, str], Page],
    figures: Collection[str] | None,
    facts: Collection[str],
    faults: list[Fault],
) -> None:
    """Check that every slot names a known figure or fact, and has words where guests read it.

    Where `figures` maps names to their specs, a figure of one tank, store or
    product must be asked for as one, and any other must not.
    """
    for (kind_of_page, _), page in pages.items():
        for placed in page.placed:
            kind, name = placed.slot.kind, placed.slot.name
            if kind == "fact" and name not in facts:
                faults.append(_unknown(page.file, placed, facts))
            if kind not in ("figure", "each"):
                continue
            if figures is not None and name not in figures:
                faults.append(_unknown(page.file, placed, figures))
            elif isinstance(figures, Mapping):
                _check_key(page.file, placed, figures[name], faults)
            if kind_of_page in NEED_WORDS and not placed.slot.otherwise:
                example = placed.slot.same_in_twins[:-1] + "|...}"
                allowed = N_("words for when it rests or is not known, after a bar: {example}")
                faults.append(_fault(page.file, placed, allowed, example=example))


def check_named(stop: Stop, figures: Collection[str] | None, faults: list[Fault]) -> None:
    """Check that the figures named in a stop's settings are computed."""
    if figures is None:
        return
    for name in stop.figures:
        if name not in figures:
            file = f"content/stops/{stop.slug}/stop.toml"
            faults.append(Fault(file, None, "figures", name, _KNOWN, {"names": _near(name, figures)}))


def _check_key(file: str, placed: Placed, spec: Spec, faults: list[Fault]) -> None:
    slot = placed.slot
    example = f"{{figure:{slot.name}@...}}"
    if not spec.of and (slot.key or slot.kind == "each"):
        allowed = N_("the plain slot {example}: this figure has one value")
        example = f"{{figure:{slot.name}}}"
    elif spec.of in ON_DEMAND and slot.kind == "each":
        allowed = N_("one {of} only, such as {example}")
    elif spec.of and slot.kind == "figure" and not slot.key:
        allowed = N_("a slot that says which {of}, such as {example}, or an each slot")
    else:
        return
    faults.append(_fault(file, placed, allowed, of=spec.of, example=example))


def _unknown(file: str, placed: Placed, known: Collection[str]) -> Fault:
    return _fault(file, placed, _KNOWN, names=_near(placed.slot.name, known))


def _near(name: str, known: Collection[str]) -> str:
    return ", ".join(get_close_matches(name, sorted(known), n=3) or sorted(known))


def _fault(file: str, placed: Placed, allowed: str, **facts: object) -> Fault:
    return Fault(file, placed.line, placed.slot.name, placed.slot.same_in_twins, allowed, facts)
