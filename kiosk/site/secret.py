"""The site's secret, 32 random bytes that sign guests' links and sessions, never defaulted; random tokens."""

import os
import re
import secrets
import stat
from pathlib import Path

from kiosk.site.faults import MISSING, Fault
from kiosk.words.catalogs import N_

NAME = "secret"


def make_secret(folder: Path) -> Path:
    """Write a new secret that only its owner may read; FileExistsError when there is one."""
    path = folder / NAME
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secrets.token_hex(32) + "\n")
    return path


def read_secret(folder: Path, faults: list[Fault]) -> bytes:
    """Return the site's secret; a missing, malformed or readable one is a fault and no bytes."""
    path = folder / NAME
    try:
        text = path.read_text(encoding="ascii").strip()
    except FileNotFoundError:
        remedy = N_("a file that kiosk init makes; a site without it starts for nobody")
        faults.append(Fault(NAME, None, NAME, MISSING, remedy))
        return b""
    except UnicodeDecodeError:
        text = ""
    if not re.fullmatch(r"[0-9a-f]{64}", text):
        remedy = N_("sixty-four digits in hexadecimal, made by kiosk init and never by hand")
        faults.append(Fault(NAME, 1, NAME, "***", remedy))
        return b""
    if os.name == "posix" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        mode = f"{stat.S_IMODE(path.stat().st_mode):o}"
        remedy = N_("mode 600: a file that only its owner reads (chmod 600 {name})")
        faults.append(Fault(NAME, None, NAME, mode, remedy, {"name": NAME}))
    return bytes.fromhex(text)


def new_token() -> str:
    """Return 256 random bits as text for a cookie."""
    return secrets.token_urlsafe(32)
