"""The gate lets writers through one at a time, in the order of arrival."""

from __future__ import annotations

import threading
import time

import pytest

from kiosk.store.errors import Busy
from kiosk.store.gate import WriteGate

WAIT_S = 30


def test_writers_pass_in_the_order_of_arrival() -> None:
    gate, passed = WriteGate(WAIT_S), []

    def write(n: int) -> None:
        with gate.held():
            passed.append(n)

    threads = [threading.Thread(target=write, args=(n,)) for n in range(20)]
    with gate.held():
        for n, thread in enumerate(threads):
            thread.start()
            while len(gate._waiting) <= n:
                time.sleep(0.001)
    for thread in threads:
        thread.join(timeout=10)
    assert passed == list(range(20))


def test_two_never_hold_it_at_once() -> None:
    gate, inside, most = WriteGate(WAIT_S), [0], [0]

    def write() -> None:
        for _ in range(200):
            with gate.held():
                inside[0] += 1
                most[0] = max(most[0], inside[0])
                inside[0] -= 1

    threads = [threading.Thread(target=write) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=20)
    assert most == [1]


def test_an_error_inside_opens_it_again() -> None:
    gate = WriteGate(WAIT_S)
    with pytest.raises(ZeroDivisionError), gate.held():
        raise ZeroDivisionError
    with gate.held():
        pass


def test_a_thread_that_holds_it_is_told_instead_of_waiting_for_itself() -> None:
    gate = WriteGate(WAIT_S)
    with gate.held(), pytest.raises(RuntimeError, match="inside another one"), gate.held():
        pass
    with gate.held():
        pass


def test_a_turn_given_up_is_passed_on() -> None:
    gate = WriteGate(WAIT_S)
    turn = threading.Lock()
    with gate.held():
        gate._waiting.append((0, turn))
        gate._give_up(0, turn)
    assert gate._holder is None
    gate._holder = 0  # as if the turn had just been given to the one who was interrupted
    gate._give_up(0, turn)
    with gate.held():
        pass


def test_nobody_waits_for_ever_and_the_turn_goes_to_the_next() -> None:
    gate, told = WriteGate(0.05), []

    def write() -> None:
        try:
            with gate.held():
                told.append("in")
        except Busy:
            told.append("busy")

    threads = [threading.Thread(target=write) for _ in range(3)]
    with gate.held():
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=10)
    assert told == ["busy"] * 3
    assert not gate._waiting
    write()
    assert told[-1] == "in"
