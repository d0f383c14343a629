"""Runs of the stills: the newest, and the account of each with its picture."""

from __future__ import annotations

from flask import render_template
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.paper.pages import pictures_pdf
from kiosk.paper.pictures import Picture
from kiosk.production.blueprint import WRITERS, bp
from kiosk.production.pictures import making as drawing
from kiosk.production.records.kinds import BATCHES, FATE, RECEIVER_CUT
from kiosk.production.runs.account import Account, read_account, runs_newest
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.web.page import paper_asked, pdf_answer

READERS = (*WRITERS, "guide")
CHOICES = {**BATCHES, **RECEIVER_CUT.allowed, **FATE.allowed}
"""What cuts, fates and batches are called."""


@bp.get("/runs/")
@open_to(*READERS)
def runs() -> str:
    """List the newest runs."""
    with site_context().store.read() as session:
        newest = runs_newest(session, now())
    return render_template("production/runs.html", runs=newest, choices=CHOICES)


@bp.get("/runs/<int:run_id>")
@open_to(*READERS)
def run_report(run_id: int) -> str:
    """Show the balance of a run: its charge, readings, receivers and recovery."""
    account = _account(run_id)
    return render_template(
        "production/run.html",
        account=account,
        run=account.row,
        run_pictures=_run_pictures(account),
        choices=CHOICES,
    )


@bp.get("/runs/<int:run_id>/picture.pdf")
@open_to(*READERS)
def run_picture(run_id: int) -> Response:
    """Answer the run's picture on paper; `paper` a4 or letter."""
    pictures = _run_pictures(_account(run_id))
    if not pictures:
        raise NotFound()
    pdf = pictures_pdf(
        pictures[0].title, (), pictures, paper_asked(), site_context().site.name, words().language
    )
    return pdf_answer(pdf, f"run-{run_id}")


def _account(run_id: int) -> Account:
    with site_context().store.read() as session:
        return read_account(session, run_id, now())


def _run_pictures(account: Account) -> list[Picture]:
    if len(account.readings) < 2:
        return []
    run = drawing.Run(account.row.code, account.row.ended_at is not None, account.readings)
    return [drawing.run_so_far(run, now(), site_context().site.zone, words())]
