"""The pages of a site: what ships and what the site overrides, compiled once at start.

An override is one page of one stop in all the site's languages or in none:
`guest` and `guide` replace the shipped page, `safety` is added after it,
`questions`, glossary and facts are merged by id, `stop.toml` by key.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kiosk.site.content.grammar import Slot
from kiosk.site.content.pages import Page, Question, compile_page, joined, split_questions
from kiosk.site.content.reference import Fact, Term, merge_glossary, read_facts
from kiosk.site.content.stops import PAGES, Stop, merge_stop
from kiosk.site.content.twins import check_named, check_slots, check_twins
from kiosk.site.faults import MISSING, Fault, SiteFaults
from kiosk.site.settings import RouteStop, Site
from kiosk.site.shipped import shipped
from kiosk.site.toml_reader import Where, read_toml
from kiosk.words.catalogs import N_

__all__ = ["Content", "Fact", "Page", "Slot", "Stop", "Term", "load_content", "read_content"]

REPLACED = ("guest", "guide")
REQUIRED_PAGES = ("guest", "guide", "safety")


@dataclass(frozen=True, slots=True)
class Content:
    """Every stop of the route in its order, facts, words of the trade, and each page's files."""

    stops: Mapping[str, Stop]
    facts: Mapping[str, Fact]
    sources: Mapping[tuple[str, str, str], tuple[Path, ...]]  # by (stop, page, language)
    glossary: Mapping[str, Term] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder of content and how its files are named to people."""

    folder: Path
    shown: str

    def name(self, path: Path) -> str:
        """Return the name under which a file is told."""
        return f"{self.shown}/{path.relative_to(self.folder).as_posix()}"


def load_content(site: Site, figure_names: Collection[str] | None = None) -> Content:
    """Read and compile the content of a site; raises SiteFaults holding every fault.

    `figure_names` are the figures that somebody computes, best with their specs
    (`Registry.specs`): then a slot must also ask for a tank's figure as a tank's.
    None skips that check.
    """
    faults: list[Fault] = []
    languages = tuple(language.code for language in site.languages)
    content = read_content(site.folder, languages, site.route, figure_names, faults)
    if faults:
        raise SiteFaults(faults)
    return content


def read_content(
    folder: Path,
    languages: Sequence[str],
    route: Sequence[RouteStop],
    figure_names: Collection[str] | None,
    faults: list[Fault],
) -> Content:
    """Read and compile the content for a route, noting every fault; the rest is as whole as it can be."""
    shelves = (Shelf(shipped("content"), "(shipped) content"), Shelf(folder / "content", "content"))
    facts: dict[str, Fact] = {}
    for table, where in _tables(shelves, "facts.toml", faults):
        facts |= read_facts(table, where)
    glossary = merge_glossary(_tables(shelves, "glossary.toml", faults), languages)
    reader = _Reader(shelves, tuple(languages), faults)
    found = {stop.slug: reader.stop(stop.slug) for stop in route}
    stops = {slug: stop for slug, stop in found.items() if stop is not None}
    for stop in stops.values():
        check_slots(stop.pages, figure_names, facts, faults)
        check_named(stop, figure_names, faults)
    return Content(stops, facts, reader.sources, glossary)


def _tables(shelves: Sequence[Shelf], file: str, faults: list[Fault]) -> list[tuple[dict[str, Any], Where]]:
    """Read a file from each shelf that has it, the site's own last."""
    there = [(shelf, shelf.folder / file) for shelf in shelves if (shelf.folder / file).exists()]
    return [read_toml(path, shelf.name(path), faults) for shelf, path in there]


class _Reader:
    """Reads stop after stop from the two shelves: what ships, then the site's own."""

    def __init__(self, shelves: tuple[Shelf, Shelf], languages: tuple[str, ...], faults: list[Fault]) -> None:
        self.shelves = shelves
        self.languages = languages
        self.faults = faults
        self.sources: dict[tuple[str, str, str], tuple[Path, ...]] = {}

    def stop(self, slug: str) -> Stop | None:
        """Return a stop, or None when its stop.toml cannot be used."""
        tables = self._tables(slug)
        settings = merge_stop(slug, tables, self.languages)
        self._check_names(slug)
        drop: tuple[str, ...] = (settings or {}).get("drop", ())
        pages: dict[tuple[str, str], Page] = {}
        for page in PAGES:
            found = self._questions(slug, drop) if page == "questions" else self._page(slug, page)
            check_twins(found, self.faults)
            pages |= {(page, language): compiled for language, compiled in found.items()}
        if settings is None:
            return None
        return Stop(slug=slug, pages=pages, **{key: v for key, v in settings.items() if key != "drop"})

    def _check_names(self, slug: str) -> None:
        """Note files of the site's own that nothing reads: a slip in a name must not go unseen."""
        shelf = self.shelves[1]
        pages = [f"{page}.{code}.md" for page in PAGES for code in self.languages]
        known = ["stop.toml", "quiz.toml", *pages]
        for path in sorted((shelf.folder / "stops" / slug).glob("*")):
            if path.is_file() and path.name not in known:
                facts = {"names": ", ".join(known)}
                self.faults.append(
                    Fault(shelf.name(path), None, slug, path.name, N_("only these files: {names}"), facts)
                )

    def _tables(self, slug: str) -> list[tuple[dict[str, Any], Where]]:
        tables = _tables(self.shelves, f"stops/{slug}/stop.toml", self.faults)
        if not tables:
            shelf = self.shelves[-1]
            path = shelf.folder / "stops" / slug / "stop.toml"
            self.faults.append(Fault(shelf.name(path), None, path.name, MISSING, N_("a file of this name")))
        return tables

    def _page(self, slug: str, page: str) -> dict[str, Page]:
        """Compile one page in every language: the site's own instead of, or after, the shipped one."""
        shipped_files, own_files = (self._files(shelf, slug, page) for shelf in self.shelves)
        chosen = [own_files] if own_files and page in REPLACED else [shipped_files, own_files]
        if not any(chosen):
            self._missing(self.shelves[1], slug, page, self.languages)
        pages: dict[str, Page] = {}
        for shelf, files in zip(self.shelves[-len(chosen) :], chosen, strict=True):
            self._whole(shelf, slug, page, files)
            for language, path in files.items():
                compiled = compile_page(self._text(shelf, path), shelf.name(path), self.faults)
                pages[language] = pages[language].followed_by(compiled) if language in pages else compiled
                self._came_from(slug, page, language, path)
        return pages

    def _questions(self, slug: str, drop: tuple[str, ...]) -> dict[str, Page]:
        """Compile the questions of a stop, merged by id, without those that the site drops."""
        merged: dict[str, dict[str, Question]] = {}
        for shelf in self.shelves:
            files = self._files(shelf, slug, "questions")
            self._whole(shelf, slug, "questions", files)
            for language, path in files.items():
                found = split_questions(self._text(shelf, path), shelf.name(path), self.faults)
                merged[language] = {**merged.get(language, {}), **found}
                self._came_from(slug, "questions", language, path)
        self._check_drop(slug, drop, {name for found in merged.values() for name in found})
        return {language: joined(found, drop) for language, found in merged.items()}

    def _files(self, shelf: Shelf, slug: str, page: str) -> dict[str, Path]:
        paths = {code: shelf.folder / "stops" / slug / f"{page}.{code}.md" for code in self.languages}
        return {code: path for code, path in paths.items() if path.exists()}

    def _whole(self, shelf: Shelf, slug: str, page: str, files: Mapping[str, Path]) -> None:
        if files:
            self._missing(shelf, slug, page, [code for code in self.languages if code not in files])

    def _missing(self, shelf: Shelf, slug: str, page: str, languages: Sequence[str]) -> None:
        remedy = N_("a page in each of the site's languages: {languages}")
        for code in languages if page in REQUIRED_PAGES or languages != self.languages else ():
            file = shelf.name(shelf.folder / "stops" / slug / f"{page}.{code}.md")
            facts = {"languages": ", ".join(self.languages)}
            self.faults.append(Fault(file, None, page, MISSING, remedy, facts))

    def _check_drop(self, slug: str, drop: tuple[str, ...], known: Collection[str]) -> None:
        remedy = N_("ids of this stop's questions: {ids}")
        for name in drop:
            if name not in known:
                file = f"content/stops/{slug}/stop.toml"
                facts = {"ids": ", ".join(sorted(known))}
                self.faults.append(Fault(file, None, "drop", name, remedy, facts))

    def _came_from(self, slug: str, page: str, language: str, path: Path) -> None:
        key = (slug, page, language)
        self.sources[key] = (*self.sources.get(key, ()), path)

    def _text(self, shelf: Shelf, path: Path) -> str:
        try:
            return path.read_text(encoding="utf-8-sig")
        except UnicodeDecodeError as error:
            remedy = N_("a text file in UTF-8")
            self.faults.append(Fault(shelf.name(path), None, path.name, str(error), remedy))
            return ""
