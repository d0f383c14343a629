"""`kiosk import`: takes files of records in, after showing what they would change."""

import gc
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TypeVar

import click

from kiosk.app import site_clock
from kiosk.cli.console import console_words, open_site, site_option
from kiosk.production.importing import previews
from kiosk.production.importing.files import files_in, read_files
from kiosk.production.records.faults import RecordFaults
from kiosk.production.records.recording import ImportReport
from kiosk.site.loading import load_site
from kiosk.words.catalogs import N_, Words

T = TypeVar("T")
LONG = 5_000
"""So many rows take a second; a progress bar for fewer would only flicker."""
ASK = N_("Record this?")
DONE = N_("Recorded.")
NOTHING_DONE = N_("Nothing was recorded.")
NOTHING_NEW = N_("These files say nothing new.")


@click.command(name="import")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@site_option
@click.option("--yes", is_flag=True, help="Record it without asking.")
@click.option("--dry-run", is_flag=True, help="Show what it would do, and do nothing.")
def import_records(folder: Path, site_folder: Path, yes: bool, dry_run: bool) -> None:
    """Import the files of records in FOLDER (.csv, .xlsx): all of them, or none with every fault listed.

    First shows what it would do and asks. Importing the same files again changes nothing.
    """
    site, words = load_site(site_folder), console_words()
    gc.disable()  # rows hold no cycles, and looking for some among millions takes a fifth of the time
    read = read_files(files_in(folder), str(folder), site.zone, _watched)
    with open_site(site) as store:
        at, shown = site_clock(site)(), None
        if dry_run or not yes:
            report = previews.preview_import(store, site, read, at=at, progress=_watched)
            _say_import(report, words, site.units)
            if report.faults:
                raise RecordFaults(*report.faults)
            if dry_run or (report.does_something and not click.confirm(words.gettext(ASK))):
                click.echo(words.gettext(NOTHING_DONE))
                return
            shown = report.mark
        report = previews.import_records(store, site, read, shown, by=None, at=at, progress=_watched)
    if shown is None:
        _say_import(report, words, site.units)
    click.echo(words.gettext(DONE if report.does_something else NOTHING_NEW))


def _watched(items: Iterable[T], many: int, doing: str) -> Iterator[T]:
    """Yield the items, with a progress bar on a terminal where there are many."""
    if many < LONG or not sys.stderr.isatty():
        yield from items
        return
    label = console_words().gettext(doing)
    with click.progressbar(
        items, length=many, label=label, file=sys.stderr, update_min_steps=many // 100
    ) as bar:
        yield from bar


def _say_import(report: ImportReport, words: Words, units: str) -> None:
    for file, counts in report.files.items():
        click.echo(f"{file}: {previews.counts_line(counts, words)}")
    for line in previews.held_lines(report, words, units):
        click.echo(line)
