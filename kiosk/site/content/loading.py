"""Loads the content of a site once at start: the shipped pages and the site's own.

An override is one page of one stop in all the site's languages or in none:
`guest` and `guide` replace the shipped page, `safety` is added after it,
`questions`, glossary and facts are merged by id, `stop.toml` by key.
"""

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
HELP = "help"
"""The id of the last section of a guide page, and the file by which a site replaces that section alone."""

REQUIRED_PAGES = ("guest", "guide", "safety")


@dataclass(frozen=True, slots=True)
class Content:
    """The stops of the route in order, the facts, and the glossary."""

    stops: Mapping[str, Stop]
    facts: Mapping[str, Fact]
    glossary: Mapping[str, Term] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shelf:
    """A folder of content, and the label under which its files stand in faults."""

    folder: Path
    label: str

    def name(self, path: Path) -> str:
        """Return the name of a file in faults."""
        return f"{self.label}/{path.relative_to(self.folder).as_posix()}"


def load_content(site: Site, figure_names: Collection[str] | None = None) -> Content:
    """Return the compiled content of a site; raises SiteFaults with every fault.

    `figure_names` are the figures that are computed. With their specs
    (`Registry.specs`) a figure of a tank must also be named with its tank. None
    skips both checks.
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
    """Return the compiled content for a route, without the stops whose settings have a fault."""
    shelves = (Shelf(shipped("content"), "(shipped) content"), Shelf(folder / "content", "content"))
    facts: dict[str, Fact] = {}
    for table, where in _tables(shelves, "facts.toml", faults):
        facts |= read_facts(table, where)
    glossary = merge_glossary(_tables(shelves, "glossary.toml", faults), languages)
    reader = _Reader(shelves, tuple(languages), faults)
    read = {stop.slug: reader.stop(stop.slug) for stop in route}
    stops = {slug: stop for slug, stop in read.items() if stop is not None}
    for stop in stops.values():
        check_slots(stop.pages, figure_names, facts, faults)
        check_named(stop, figure_names, faults)
    return Content(stops, facts, glossary)


def _tables(shelves: Sequence[Shelf], file: str, faults: list[Fault]) -> list[tuple[dict[str, Any], Where]]:
    """Return the table of a file from each shelf that has it, the site's own last."""
    there = [(shelf, shelf.folder / file) for shelf in shelves if (shelf.folder / file).exists()]
    return [read_toml(path, shelf.name(path), faults) for shelf, path in there]


class _Reader:
    """Reads stops from the two shelves: the shipped one, then the site's own."""

    def __init__(self, shelves: tuple[Shelf, Shelf], languages: tuple[str, ...], faults: list[Fault]) -> None:
        self.shelves = shelves
        self.languages = languages
        self.faults = faults

    def stop(self, slug: str) -> Stop | None:
        """Return a stop, or None when its stop.toml has a fault."""
        tables = self._tables(slug)
        settings = merge_stop(slug, tables, self.languages)
        self._check_names(slug)
        drop: tuple[str, ...] = (settings or {}).get("drop", ())
        pages: dict[tuple[str, str], Page] = {}
        for page in PAGES:
            twins = self._questions(slug, drop) if page == "questions" else self._page(slug, page)
            check_twins(twins, self.faults)
            pages |= {(page, language): compiled for language, compiled in twins.items()}
        if settings is None:
            return None
        return Stop(slug=slug, pages=pages, **{key: v for key, v in settings.items() if key != "drop"})

    def _check_names(self, slug: str) -> None:
        """Add a fault for each of the site's own files that is not read: its name may be misspelled."""
        shelf = self.shelves[1]
        pages = [f"{page}.{code}.md" for page in (*PAGES, HELP) for code in self.languages]
        known = ["stop.toml", "quiz.toml", *pages]
        for path in sorted((shelf.folder / "stops" / slug).glob("*")):
            if path.is_file() and path.name not in known:
                names = ", ".join(known)
                self._note(shelf.name(path), slug, path.name, N_("only these files: {names}"), names=names)

    def _tables(self, slug: str) -> list[tuple[dict[str, Any], Where]]:
        tables = _tables(self.shelves, f"stops/{slug}/stop.toml", self.faults)
        if not tables:
            shelf = self.shelves[-1]
            path = shelf.folder / "stops" / slug / "stop.toml"
            self._note(shelf.name(path), path.name, MISSING, N_("a file of this name"))
        return tables

    def _page(self, slug: str, page: str) -> dict[str, Page]:
        """Return a page by language: the site's own instead of the shipped one, or after it.

        In a guide page the site's own `HELP`, where it has one, stands instead of the last section.
        """
        shipped_files, own_files = (self._files(shelf, slug, page) for shelf in self.shelves)
        chosen = [own_files] if own_files and page in REPLACED else [shipped_files, own_files]
        if not any(chosen):
            self._note_missing(self.shelves[1], slug, page, self.languages)
        own_help = self._files(self.shelves[1], slug, HELP) if page == "guide" else {}
        self._check_languages(self.shelves[1], slug, HELP, own_help)
        pages: dict[str, Page] = {}
        for shelf, files in zip(self.shelves[-len(chosen) :], chosen, strict=True):
            self._check_languages(shelf, slug, page, files)
            for language, path in files.items():
                text = self._text(shelf, path)
                if language in own_help:
                    text = text.partition(f"\n## {HELP}:")[0]
                compiled = compile_page(text, shelf.name(path), self.faults)
                pages[language] = pages[language].followed_by(compiled) if language in pages else compiled
        for language, path in own_help.items():
            text, file = self._text(self.shelves[1], path), self.shelves[1].name(path)
            own = compile_page(text, file, self.faults)
            pages[language] = pages.get(language, Page()).followed_by(own)
        return pages

    def _questions(self, slug: str, drop: tuple[str, ...]) -> dict[str, Page]:
        """Return the questions of a stop by language, merged by id, without those that the site drops."""
        merged: dict[str, dict[str, Question]] = {}
        for shelf in self.shelves:
            files = self._files(shelf, slug, "questions")
            self._check_languages(shelf, slug, "questions", files)
            for language, path in files.items():
                questions = split_questions(self._text(shelf, path), shelf.name(path), self.faults)
                merged[language] = {**merged.get(language, {}), **questions}
        self._check_drop(slug, drop, {name for questions in merged.values() for name in questions})
        return {language: joined(questions, drop) for language, questions in merged.items()}

    def _files(self, shelf: Shelf, slug: str, page: str) -> dict[str, Path]:
        paths = {code: shelf.folder / "stops" / slug / f"{page}.{code}.md" for code in self.languages}
        return {code: path for code, path in paths.items() if path.exists()}

    def _check_languages(self, shelf: Shelf, slug: str, page: str, files: Mapping[str, Path]) -> None:
        if files:
            self._note_missing(shelf, slug, page, [code for code in self.languages if code not in files])

    def _note_missing(self, shelf: Shelf, slug: str, page: str, languages: Sequence[str]) -> None:
        remedy = N_("a page in each of the site's languages: {languages}")
        for code in languages if page in REQUIRED_PAGES or languages != self.languages else ():
            file = shelf.name(shelf.folder / "stops" / slug / f"{page}.{code}.md")
            self._note(file, page, MISSING, remedy, languages=", ".join(self.languages))

    def _check_drop(self, slug: str, drop: tuple[str, ...], known: Collection[str]) -> None:
        remedy = N_("ids of this stop's questions: {ids}")
        for name in drop:
            if name not in known:
                file = f"content/stops/{slug}/stop.toml"
                self._note(file, "drop", name, remedy, ids=", ".join(sorted(known)))

    def _note(self, file: str, key: str, found: str, allowed: str, **facts: object) -> None:
        self.faults.append(Fault(file, None, key, found, allowed, facts))

    def _text(self, shelf: Shelf, path: Path) -> str:
        try:
            return path.read_text(encoding="utf-8-sig")
        except UnicodeDecodeError as error:
            self._note(shelf.name(path), path.name, str(error), N_("a text file in UTF-8"))
            return ""
