"""A limit on how often one sender may ask, kept in memory: after a restart each begins anew."""

import math
import threading
from collections import OrderedDict
from datetime import datetime

from kiosk.words.catalogs import N_

MOST_SENDERS = 10_000
"""Beyond this number the sender that asked longest ago is forgotten."""


class TooOften(Exception):
    """A sender asked more often than the limit allows."""

    status = 429
    message = N_("Too much was sent from here in a short time. Try again in {seconds} s.")

    def __init__(self, seconds: int) -> None:
        super().__init__(seconds)
        self.facts = {"seconds": seconds}


class RateLimit:
    """Each sender may ask `burst` times at once, and once more after every `every_s` seconds."""

    def __init__(self, burst: int, every_s: float) -> None:
        self._burst, self._every_s = burst, every_s
        self._senders: OrderedDict[object, tuple[float, datetime]] = OrderedDict()
        self._lock = threading.Lock()

    def wait_s(self, sender: object, now: datetime) -> int:
        """Return the seconds after which a sender may ask again, 0 for at once."""
        with self._lock:
            used = self._used(sender, now)
        return max(0, math.ceil((used - self._burst + 1) * self._every_s))

    def count(self, sender: object, now: datetime) -> None:
        """Count one request of a sender."""
        with self._lock:
            self._senders[sender] = self._used(sender, now) + 1, now
            self._senders.move_to_end(sender)
            if len(self._senders) > MOST_SENDERS:
                self._senders.popitem(last=False)

    def require(self, sender: object, now: datetime) -> None:
        """Count a request of a sender. Raises TooOften where it must wait."""
        if seconds := self.wait_s(sender, now):
            raise TooOften(seconds)
        self.count(sender, now)

    def _used(self, sender: object, now: datetime) -> float:
        used, at = self._senders.get(sender, (0.0, now))
        return max(0.0, used - (now - at).total_seconds() / self._every_s)
