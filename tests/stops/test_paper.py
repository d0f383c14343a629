"""What guests and guides see as pictures comes on paper too, in the language of the address."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from flask.testing import FlaskClient

from kiosk.app import create_app
from kiosk.site.loading import load_site
from kiosk.store.engine import open_store
from tests.actors import Clock, Screen, hire
from tests.databases import DEMO_NOW, DemoCopy


def text_of(pdf: bytes) -> str:
    """Return the text of every page, each space once."""
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in pages)


@pytest.mark.parametrize(
    ("language", "said"), [("en", "Where lot JE-01 comes from"), ("es", "jengibre fresco")]
)
def test_the_pictures_of_the_demo_come_on_paper(
    tmp_path: Path, prepared_demo: DemoCopy, language: str, said: str
) -> None:
    prepared, now = prepared_demo(tmp_path / "site"), DEMO_NOW
    site = load_site(prepared.folder, database=prepared.database)
    store = open_store(site.database)
    app = create_app(site, store, Clock(now))
    guest: FlaskClient = app.test_client()
    answer = guest.get(f"/{language}/bottles/JE-01/picture.pdf?paper=letter")
    assert answer.mimetype == "application/pdf"
    assert said.lower() in text_of(answer.data).lower()  # headings are in capitals
    assert guest.get(f"/{language}/bottles/JE-01/picture.pdf?paper=roll").status_code == 404
    assert guest.get(f"/{language}/bottles/NONE/picture.pdf").status_code == 404
    screen = Screen(app)
    screen.get(f"/language/{language}")
    screen.enrol(store, site, now)
    screen.sign_in(hire(store, site, now, "Ana", ("guide",)))
    assert screen.get("/staff/stops/fermentation/pictures.pdf").data.startswith(b"%PDF-")
    assert screen.get("/staff/stops/mill/pictures.pdf").status_code == 404
    store.close()
