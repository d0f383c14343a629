"""The forms of a tour and a booking: read as drafts, and shown again as they were typed or saved."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Row
from sqlalchemy.orm import Session

from kiosk.site.settings import Site, instants_of
from kiosk.tours.planning.bookings import LENGTHS, BookingDraft
from kiosk.tours.planning.tours import TourDraft, flights_in_use, guides, languages_led
from kiosk.words.catalogs import Words
from kiosk.words.formats import YEARS


@dataclass(frozen=True, slots=True)
class Typed:
    """What a form shows: its text by field, and what is ticked in it."""

    texts: Mapping[str, str]
    ticked: Sequence[str] = ()
    languages: Sequence[str] = ()  # further ones of a booking

    def with_languages(self, codes: Sequence[str]) -> "Typed":
        """Return it with the further languages that were ticked."""
        return replace(self, languages=tuple(plain(code)[:8] for code in codes))


def plain(text: str) -> str:
    """Return what was typed on one line, without signs that cannot be seen."""
    return "".join(sign for sign in " ".join(text.split()) if sign.isprintable())


def typed_form(form: Mapping[str, str], ticked: Sequence[str], fields: Sequence[str]) -> Typed:
    """Return what was typed into `fields` and what was ticked."""
    texts = {name: plain(form.get(name, ""))[:2_000] for name in fields}
    return Typed(texts, tuple(plain(one)[:40] for one in ticked))


TOUR_FIELDS = ("starts_at", "guide", "flight", "room", "places", "private", "may_lead", "apply", "seen")
SPLIT_FIELDS = ("starts_at", "guide", "places", "may_lead", "seen")
BOOKING_FIELDS = (*LENGTHS, "size", "language", "tour", "ticket")


ONE, REST = "one", "rest"
"""What a change applies to: this tour alone, or it and the later ones of its pattern."""


def parse_tour(typed: Typed, site: Site) -> TourDraft:
    """Return the tour that was typed."""
    texts = typed.texts
    return TourDraft(
        starts_at=parse_start(texts["starts_at"], site.zone),
        languages=tuple(dict.fromkeys(typed.ticked)),
        guide_id=choice(texts["guide"]),
        flight_id=choice(texts["flight"]),
        room=texts["room"],
        places=whole(texts["places"]),
        typed=texts,
        private=bool(texts["private"]),
        may_lead=bool(texts["may_lead"]),
    )


def parse_split(typed: Typed, site: Site, tour: Row[Any]) -> TourDraft:
    """Return the new tour of a split, with the flight and the room of the old one."""
    same = {"flight": str(tour.flight_id or ""), "room": tour.room, "private": ""}
    return parse_tour(replace(typed, texts={**typed.texts, **same}), site)


def parse_booking(typed: Typed, site: Site) -> BookingDraft:
    """Return the booking that was typed; a house without kinds of tickets asks for none."""
    texts = typed.texts
    return BookingDraft(
        **{name: texts[name] for name in LENGTHS},
        size=whole(texts["size"]),
        language=texts["language"],
        allergens=tuple(dict.fromkeys(typed.ticked)),
        typed_size=texts["size"],
        ticket=texts["ticket"] if site.ticket_kinds else None,
        more_languages=tuple(dict.fromkeys(typed.languages)),
    )


def parse_start(text: str, zone: ZoneInfo) -> datetime | None:
    """Return the instant of a day and time on the site's clock; None for what that clock never shows.

    Of a time that the clock shows twice, in autumn, the first is meant.
    """
    try:
        typed = datetime.fromisoformat(text)
    except ValueError:
        return None
    if typed.year not in YEARS:
        return None
    instants = [typed.astimezone(UTC)] if typed.tzinfo else instants_of(typed, zone)
    return next(iter(instants), None)


def whole(text: str) -> int | None:
    """Return a number of up to six plain digits, else None."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else None


def choice(text: str) -> int | None:
    """Return the id that was chosen, None for no choice, and an id that no row has for anything else."""
    if not text:
        return None
    number = int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else -1
    return number if number > 0 else -1


def saved_tour(row: Row[Any], site: Site) -> Typed:
    """Return the form filled in with a saved tour."""
    chosen = {"guide": row.guide_id, "flight": row.flight_id}
    texts = {name: str(value or "") for name, value in chosen.items()}
    start = f"{site.local(row.starts_at):%Y-%m-%dT%H:%M}"
    texts |= {"starts_at": start, "room": row.room, "places": str(row.places), "apply": ONE}
    texts |= {"private": "yes" if row.private else "", "may_lead": "", "seen": ""}
    return Typed(texts, row.languages)


def blank_tour(site: Site, starts_at: datetime) -> Typed:
    """Return the form of a new tour on a day: every language, the first room, and places to be typed."""
    texts = dict.fromkeys(TOUR_FIELDS, "")
    start = f"{site.local(starts_at):%Y-%m-%dT%H:%M}"
    return Typed({**texts, "starts_at": start, "room": site.rooms[0]}, site.codes)


def saved_booking(row: Row[Any]) -> Typed:
    """Return the form filled in with a saved booking."""
    texts = {name: str(getattr(row, name) or "") for name in (*LENGTHS, "size", "language", "ticket")}
    return Typed({**texts, "tour": str(row.tour_id)}, row.allergens or (), row.more_languages or ())


def blank_booking(languages: Sequence[str], site: Site) -> Typed:
    """Return the form of a new booking, in the first language of its tour, with the first kind of ticket."""
    first = {"language": languages[0] if languages else "", "ticket": next(iter(site.ticket_kinds), "")}
    return Typed({**dict.fromkeys(BOOKING_FIELDS, ""), **first})


def ticket_choices(site: Site, words: Words, present: str = "") -> list[tuple[str, str]]:
    """Return the kinds of tickets of the house with their names, and the `present` one of a booking."""
    if not site.ticket_kinds:
        return []
    kinds = dict.fromkeys((*site.ticket_kinds, *([present] if present else [])))
    named = [(kind, site.ticket_name(kind, words.language)) for kind in kinds]
    return [*named, ("", words.gettext("not known: every limit applies"))]


def tour_choices(
    session: Session, site: Site, words: Words, now: datetime
) -> dict[str, list[tuple[str, str]]]:
    """Return the choices of a tour's fields: guides, flights and rooms."""
    none = ("", words.gettext("none yet"))
    named = [
        (str(one.id), (one.names or {}).get(words.language, one.name)) for one in flights_in_use(session)
    ]
    led = languages_led(session, site.service_day(now))
    leading = [
        (one, ", ".join(code.upper() for code in site.codes if code in led[one.id]))
        for one in guides(session, site, now)
    ]
    return {
        "guides": [none, *((str(one.id), f"{one.name} ({codes})") for one, codes in leading)],
        "flights": [none, *named],
        "rooms": [(room, site.room_name(room, words.language)) for room in site.rooms],
    }
