"""The `kiosk` command: each of its commands parses, calls one function, and says what happened."""

from collections.abc import Sequence

import click
from sqlalchemy.exc import DBAPIError

from kiosk import __version__
from kiosk.cli import backups, records, serving, site
from kiosk.cli.console import console_words
from kiosk.daily import NotReady
from kiosk.production.importing.previews import PreviewOutdated
from kiosk.production.records.faults import RecordFaults
from kiosk.site.backup import BackupDamaged
from kiosk.site.faults import FolderInUse, SiteFaults
from kiosk.staff.errors import StaffError
from kiosk.store.errors import StoreError
from kiosk.store.migrate import MigrationFault
from kiosk.words.catalogs import Words
from kiosk.words.errors import sentence
from kiosk.words.record_faults import fault_line

FORESEEN = (
    SiteFaults,
    RecordFaults,
    StoreError,
    FolderInUse,
    BackupDamaged,
    NotReady,
    PreviewOutdated,
    MigrationFault,
    StaffError,
    DBAPIError,
    OSError,
)
"""Errors that end the command with plain sentences instead of a traceback."""


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="kiosk")
def cli() -> None:
    """The visitor side of a farm-to-bottle distillery: stops, figures, pours, cards."""


COMMANDS = (
    *(serving.demo, site.init, serving.serve, site.enrol, site.check),
    *(records.import_records, site.daily, backups.backup, backups.restore, backups.move),
)
for command in COMMANDS:
    cli.add_command(command)


def main() -> None:
    """Run the command; a foreseen error ends it with plain sentences and exit code 1."""
    try:
        cli(standalone_mode=True)
    except FORESEEN as error:
        for line in _sentences(error, console_words()):
            click.echo(line, err=True)
        raise SystemExit(1) from None


def _sentences(error: Exception, words: Words) -> Sequence[str]:
    match error:
        case SiteFaults():
            return [fault.sentence(words.gettext) for fault in error.faults]
        case RecordFaults():
            return [fault_line(fault.code, fault.facts, words) for fault in error.faults]
        case MigrationFault():
            return [str(error)]
        case DBAPIError():  # the server is away, or the file is no database
            return [f"The site's database cannot be used: {error.orig}"]
        case OSError():
            return [f"{error.strerror}: {error.filename or ''}".rstrip(": ")]
    return [sentence(error, words)]
