"""The stop signs that can be printed, and the permanent address in the code of each, without a language."""

import socket
from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import urlsplit

from kiosk.drawings.plates import PLATES
from kiosk.site.content.loading import Content
from kiosk.site.settings import Site
from kiosk.words.catalogs import N_, Words
from kiosk.words.errors import sentence


class NoPublicAddress(Exception):
    """The site has no address that a guest's phone could open."""

    status = 409
    code = "no_public_address"

    def __init__(self, found: str | None) -> None:
        super().__init__(f"public_address = {found!r}")
        self.facts: Mapping[str, object] = {"setting": "public_address", "found": found or ""}
        self.message = _NONE if not found else _ONLY_HERE


_NONE = N_(
    "No sign can be printed yet: site.toml has no {setting}. Set it to the address that guests' phones "
    "can open, such as https://visit.example.com."
)
_ONLY_HERE = N_(
    "No sign can be printed with the address {found}: a guest's phone cannot open it. Set {setting} in "
    "site.toml to one that phones can open, such as https://visit.example.com."
)


def stop_address(site: Site, slug: str) -> str:
    """Return the web address that the QR code on a stop's sign holds.

    Raises NoPublicAddress where the site has no public address, or one that no phone could open.
    """
    return f"{public_base(site)}/s/{slug}"


def public_base(site: Site) -> str:
    """Return the public address without a slash at its end; raises NoPublicAddress."""
    address = site.public_address
    if not address or not _reaches_a_phone(address):
        raise NoPublicAddress(address)
    return address.rstrip("/")


def _reaches_a_phone(address: str) -> bool:
    parts = urlsplit(address)
    host = (parts.hostname or "").rstrip(".").lower()
    if parts.scheme not in ("http", "https") or not host or "." not in host + "." * (":" in host):
        return False
    if host == "localhost" or host.endswith((".localhost", ".localdomain")):
        return False
    ip = _ip(host)
    return ip is None or not (ip.is_loopback or ip.is_unspecified or ip.is_link_local)


def _ip(host: str) -> IPv4Address | IPv6Address | None:
    """Return a host as an IP address, also from the short forms ("127.1"), or None for a name."""
    try:
        ip = ip_address(host)
    except ValueError:
        try:
            return IPv4Address(socket.inet_aton(host))
        except OSError:
            return None
    return (ip.ipv4_mapped or ip) if isinstance(ip, IPv6Address) else ip


BOTH = "both"
MOST_LANGUAGES = 2  # side by side on one sheet


@dataclass(frozen=True, slots=True)
class StopSign:
    """One stop's sign: the stop's name for the reader, the address in its code, where it hangs, its plate."""

    slug: str
    name: str
    address: str
    outside: bool
    plate: bool  # whether the stop has a plate to print beside the sign


@dataclass(frozen=True, slots=True)
class StopSigns:
    """The signs in the order of the route, the choices of language, and why no sign can be printed."""

    signs: tuple[StopSign, ...]
    languages: tuple[str, ...]
    fault: str = ""


def list_stop_signs(site: Site, content: Content, words: Words) -> StopSigns:
    """Return the signs of a site's stops in the reader's language."""
    choices = [language.code for language in site.languages]
    if len(choices) > 1:
        choices = [BOTH, *choices]
    try:
        signs = tuple(
            StopSign(
                slug, stop.names[words.language], stop_address(site, slug), stop.at_the_door, slug in PLATES
            )
            for slug, stop in content.stops.items()
        )
    except NoPublicAddress as missing:
        return StopSigns((), tuple(choices), sentence(missing, words))
    return StopSigns(signs, tuple(choices))


def languages_of(site: Site, choice: str) -> tuple[str, ...]:
    """Return the languages for a choice ("both" or a code); none for a language that the site lacks."""
    codes = tuple(language.code for language in site.languages)
    if choice == BOTH:
        return codes[:MOST_LANGUAGES]
    return (choice,) if choice in codes else ()
