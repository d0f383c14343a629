"""Answers on paper: which sheet was asked for, and a document shown in the browser."""

from __future__ import annotations

from flask import Response, abort, request

from kiosk.paper.sheet import Paper


def paper_asked() -> Paper:
    """Return the sheet that `?paper=` asks for, A4 without; any other is answered with 404."""
    paper = request.args.get("paper", Paper.A4)
    if paper not in set(Paper):
        abort(404)
    return Paper(paper)


def pdf_answer(pdf: bytes, name: str) -> Response:
    """Answer a document under a name."""
    disposition = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return Response(pdf, mimetype="application/pdf", headers=disposition)
