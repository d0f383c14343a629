"""The one error family of the figures."""

from __future__ import annotations


class FigureError(ValueError):
    """A quantity lies outside what the calculation can answer.

    `field` names the argument, `value` is what came, `allowed` says in plain
    English what may come; `reason` is a code that the words module translates
    (`out_of_range`, `freezing`, `above_pure`, `holds_sugar`, `too_few`, ...).
    """

    def __init__(self, field: str, value: object, allowed: str, reason: str = "out_of_range") -> None:
        super().__init__(f"{field} = {value!r}: allowed is {allowed}")
        self.field = field
        self.value = value
        self.allowed = allowed
        self.reason = reason
