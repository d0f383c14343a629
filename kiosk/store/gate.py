"""A gate that lets writers through one at a time, in the order of arrival.

SQLite's own waiting is a poll with growing pauses: under load some writers wait
a hundred times longer than others. Behind the gate nobody polls.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock, get_ident

from kiosk.store.errors import Busy


class WriteGate:
    """A fair lock between the threads of one process; it knows who holds it.

    Nobody waits at it for longer than `wait_s`: behind a task in another process
    that holds the database, each in turn would wait for all before it.
    """

    def __init__(self, wait_s: float) -> None:
        self._wait_s = wait_s
        self._mutex = Lock()
        self._holder: int | None = None
        self._waiting: deque[tuple[int, Lock]] = deque()

    @contextmanager
    def held(self) -> Iterator[None]:
        """Wait for one's turn and hold the gate.

        Raises Busy when it does not come in time, RuntimeError when this thread holds it already.
        """
        self._enter()
        try:
            yield
        finally:
            self._leave()

    def _enter(self) -> None:
        me = get_ident()
        turn = Lock()
        with self._mutex:
            if self._holder == me:
                raise RuntimeError("a write transaction was begun inside another one of the same thread")
            if self._holder is None:
                self._holder = me
                return
            turn.acquire()
            self._waiting.append((me, turn))
        try:
            if not turn.acquire(timeout=self._wait_s):
                raise Busy()
        except BaseException:  # whoever goes while waiting must not leave a turn that nobody takes
            self._give_up(me, turn)
            raise

    def _leave(self) -> None:
        with self._mutex:
            if self._waiting:
                self._holder, turn = self._waiting.popleft()
                turn.release()
            else:
                self._holder = None

    def _give_up(self, me: int, turn: Lock) -> None:
        with self._mutex:
            given = (me, turn) not in self._waiting
            if not given:
                self._waiting.remove((me, turn))
        if given:
            self._leave()
