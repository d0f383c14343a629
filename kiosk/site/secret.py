"""The site's secret, 32 random bytes that sign guests' links and sessions, never defaulted; random tokens."""

import os
import re
import secrets
import stat
from pathlib import Path

from kiosk.site.faults import MISSING, Fault
from kiosk.words.catalogs import N_

NAME = "secret"
ONLY_ITS_OWNER = N_("mode 600: a file that only its owner reads (chmod 600 {name})")


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
    if mode := open_mode(path):
        faults.append(Fault(NAME, None, NAME, mode, ONLY_ITS_OWNER, {"name": NAME}))
    return bytes.fromhex(text)


def open_mode(path: Path) -> str:
    """Return the mode of a file that others than its owner may open, such as "644", else ""."""
    mode = stat.S_IMODE(path.stat().st_mode)
    return f"{mode:o}" if os.name == "posix" and mode & (stat.S_IRWXG | stat.S_IRWXO) else ""


def new_token() -> str:
    """Return 256 random bits as text for a cookie."""
    return secrets.token_urlsafe(32)
