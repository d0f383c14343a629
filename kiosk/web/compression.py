"""Sends text compressed with gzip, each content compressed once and kept by its hash.

Compressed are the static files that are text, the house's style sheet, and the kept pages of
guests (`page.guest_page`), which are the same for every visitor. All other pages go as they
are: a page of staff, or one that answers a form, carries a form's token beside what a person
typed, and the length of such a page compressed would betray the token letter by letter to
an attacker who chooses what is typed and sees how long the encrypted answer is.
"""

import gzip
import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any

from flask import Flask, Response, make_response, request

from kiosk.figures.figure import MOST_DOCUMENTS, VersionedCache

TEXT = frozenset({"text/css", "text/javascript", "image/svg+xml", "application/json", "text/plain"})
"""The types of static files that are compressed; typefaces and photographs are compressed already."""

_compressed = VersionedCache(MOST_DOCUMENTS)
_OWNER = object()


def gzipped(content: bytes) -> bytes:
    """Return a content compressed; the same content is compressed once."""
    digest = hashlib.sha256(content).hexdigest()
    return _compressed.get(_OWNER, digest, (), lambda: gzip.compress(content, 9, mtime=0))[0]


def takes_gzip() -> bool:
    """Return whether the browser that asks reads gzip (RFC 9110, section 12.5.3)."""
    offered = {name.lower(): quality for name, quality in request.accept_encodings}
    return offered.get("gzip", offered.get("*", 0)) > 0


def compress(answer: Response) -> Response:
    """Compress an answer for a browser that reads gzip; a part of a file stays as it is.

    The ETag becomes weak: the compressed bytes are others than those it was computed of.
    """
    answer.vary.add("Accept-Encoding")
    if answer.status_code != 200 or "Range" in request.headers or not takes_gzip():
        return answer
    answer.direct_passthrough = False
    content = answer.get_data()
    if len(short := gzipped(content)) < len(content):
        answer.set_data(short)
        answer.content_encoding = "gzip"
        if (etag := answer.get_etag()[0]) is not None:
            answer.set_etag(etag, weak=True)
    return answer


def compressing(view: Callable[..., Any]) -> Callable[..., Response]:
    """Return a view that compresses what the given one answers, where that is text."""

    @wraps(view)
    def answered(**arguments: object) -> Response:
        answer = make_response(view(**arguments))
        return compress(answer) if answer.mimetype in TEXT else answer

    return answered


def init_app(app: Flask) -> None:
    """Compress static files that are text; other requests do not come by here."""
    app.view_functions["static"] = compressing(app.view_functions["static"])
