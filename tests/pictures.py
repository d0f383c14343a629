"""Takes the two pictures of README from a running demo: `python -m tests.pictures`."""

from __future__ import annotations

import io
import shutil
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import FLAGS, served, sign_in

FOLDER = Path(__file__).parents[1] / "content" / "manual"
FRONT, DAY = FOLDER / "front.webp", FOLDER / "day.webp"
MOST_BYTES = 60_000


def save(page: Page, path: Path) -> None:
    """Save the open page as WebP, in the best quality that stays within `MOST_BYTES`.

    Raises ValueError where none does.
    """
    picture = Image.open(io.BytesIO(page.screenshot()))
    for quality in range(90, 20, -10):
        picture.save(path, "WEBP", quality=quality, method=6)
        if path.stat().st_size <= MOST_BYTES:
            return
    raise ValueError(f"{path.name} takes more than {MOST_BYTES} bytes in every quality")


def take() -> None:
    """Serve a demo and save its front page and its day."""
    scratch = tempfile.TemporaryDirectory()
    with scratch as folder, served(Path(folder) / "site") as demo, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(FLAGS))
        page = browser.new_page(base_url=demo.base, viewport={"width": 1280, "height": 860})
        page.goto("/en/", wait_until="networkidle")
        save(page, FRONT)
        page.set_viewport_size({"width": 820, "height": 1000})
        sign_in(page, demo, "tablet", "Marisol", "en")
        page.goto("/staff/", wait_until="networkidle")
        save(page, DAY)
        browser.close()


if __name__ == "__main__":
    take()
