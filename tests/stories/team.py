"""People who work in a house, each on a device of their own, and what they do with a group."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.stories.house import House, Page, Screen, sign_in
from tests.stories.test_who_may import choose_pin, enrolled, first_sign_in, hired


@dataclass
class Worker:
    """A person with a PIN at a device; whose sign-in has ended signs in again."""

    name: str
    pin: str
    screen: Screen

    def opens(self, path: str) -> Page:
        """Open a page."""
        page = self.screen.get(path)
        if not page.path.startswith("/staff/sign-in"):
            return page
        sign_in(self.screen, self.name, self.pin)
        return self.screen.get(path)

    def sends(self, page: Page, action: str = "", /, **typed: str | Sequence[str]) -> Page:
        """Send a form of a page."""
        return self.screen.submit(page, action, **typed)


def joined(house: House, manager: Worker, name: str, role: str, pin: str, device: str) -> Worker:
    """Return a person whom the manager took on, signed in on a device enrolled by a code."""
    manager.opens("/staff/people")
    hired(manager.screen, name, role, pin)
    screen = enrolled(house, manager.screen, device)
    page = choose_pin(screen, first_sign_in(screen, name, pin), pin)
    assert page.status == 200, page.words
    return Worker(name, pin[::-1], screen)


@dataclass
class Tally:
    """What the story counts by itself, to be compared with what the pages say."""

    checked_in: int = 0
    poured: Counter[str] = field(default_factory=Counter)
    free: int = 0  # glasses without alcohol

    @property
    def pours(self) -> int:
        """How many pours of any product."""
        return self.poured.total()


def heads_of(page: Page) -> list[str]:
    """Return the codes of the heads on a group's page, in their order."""
    return re.findall(r'id="head-([\d-]+)"', page.body.decode())


def check_in(
    worker: Worker, tour: str, marks: Sequence[str], tally: Tally, without: Collection[str] = ()
) -> Page:
    """Mark the heads of a tour in their order, each as "id", "none" or "child N"; return the last page.

    `without` are the codes of heads that are left as they are.
    """
    heads = [head for head in heads_of(worker.opens(tour)) if head not in without]
    page = worker.opens(f"{tour}?head={heads[0]}")
    for head, mark in zip(heads, marks, strict=True):
        kind, _, adult = mark.partition(" ")
        sent = {
            "id": {"kind": "id_check", "detail": "identity_card"},
            "none": {"kind": "no_alcohol", "detail": ""},
            "child": {"kind": "under_age", "detail": adult},
        }[kind]
        page = worker.sends(page, "/marks", head=head, **sent)
        assert page.status == 200, page.words
        tally.checked_in += 1
    assert " here 0 to check" in page.words, page.words
    return worker.sends(page, "/briefed")


def numbers_of(page: Page) -> list[int]:
    """Return the numbers of the guests on a group's page or in a room, in order."""
    return [int(one) for one in re.findall(r'data-number="(\d+)"', page.body.decode())]


def pour_all(worker: Worker, tour: str, drinking: int, flight: Sequence[str], tally: Tally) -> dict[str, Any]:
    """Pour the flight for all who drink, a round for each sample, and return the room."""
    worker.opens(f"{tour}/tasting")
    for n, product in enumerate(flight):
        room = worker.screen.room(tour)
        due = [guest["state"] == "may_be_served" and not guest["flight"][n] for guest in room["guests"]]
        seats = [seat for seat, is_due in enumerate(due) if is_due]
        assert len(seats) == drinking
        for seat in seats:
            assert worker.screen.press(tour, seat)["outcome"] == "poured"
        tally.poured[product] += drinking
    return worker.screen.room(tour)


def press_walk(worker: Worker, tour: str, **typed: str) -> Page:
    """Press the one button at the foot of the walk."""
    page = worker.opens(f"{tour}/walk")
    form = re.search(r'action="[^"]*/steps" data-walk>.*?</form>', page.body.decode(), re.S)
    assert form is not None, page.words
    named = re.findall(r'<(?:input|button)[^>]*? name="(\w+)"[^>]*? value="([^"]*)"', form[0])
    return worker.sends(page, "/steps", **{**dict(named), **typed})
