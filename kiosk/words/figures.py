"""A figure as text: number, noun, state, basis and sentences, the same on a page, a card, in JSON and aloud.

The words of each figure stand in `kiosk.words.names`, by subject; `tests/words/test_figures.py`
fails for a figure without words. In them `{amount}` is number and unit, `{age}` "3 hours ago",
`{day}` the last day of activity. Only a fresh figure's words may say "now" or "today".

For speech, numbers are rounded: "almost 190", "about one part in 16", "2 hours".
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from kiosk.figures.figure import Basis, Figure, Spec, State, Unit, state
from kiosk.figures.strength import abv_of_proof
from kiosk.words import formats
from kiosk.words.catalogs import N_, Words
from kiosk.words.formats import exact, number, rounded
from kiosk.words.names import WORDS, FigureWords, Wording, casks, making
from kiosk.words.units import Amount, amount, spoken_unit

FIGURE_WORDS: Mapping[str, FigureWords] = {**making.WORDS, **casks.WORDS, **WORDS}

_BASES = {
    Basis.COUNTED: N_("counted"),
    Basis.MEASURED: N_("measured"),
    Basis.ESTIMATED: N_("estimated"),
    Basis.STATED: N_("stated"),
}

STATE_WORDS: Mapping[State, str] = {
    State.FRESH: N_("current"),
    State.STALE: N_("from earlier"),
    State.RESTING: N_("resting"),
    State.UNKNOWN: N_("not known"),
}


@dataclass(frozen=True, slots=True)
class FigureText:
    """A figure at one moment as plain text in the reader's language.

    `value`, `unit` and `noun` belong together ("84.2", "L", "of hearts today");
    value and unit are empty when there is none. `as_of` and `basis` say from when and how it is
    known, and why a value to date is lower than it was. `sentence` stands alone in every state,
    `spoken` is the same rounded for speech. `how` explains to staff how it is calculated.
    """

    value: str
    noun: str
    unit: str
    state: State
    as_of: str
    basis: str
    sentence: str
    spoken: str
    how: str = ""

    @property
    def amount(self) -> str:
        """Number and unit with a no-break space between; "" when there is no value."""
        return str(Amount(self.value, self.unit))


def figure_text(
    figure: Figure, spec: Spec, now: datetime, words: Words, units: str, *, of: str = ""
) -> FigureText:
    """Return a figure as text in the reader's language and `units` ("metric" or "us").

    `now` is in the site's time zone, in which times are written. `of` names
    the tank, store or product in the sentence. Raises KeyError for a figure without words.
    """
    named_words = FIGURE_WORDS[spec.name]
    is_now = state(figure, spec, now)
    if figure.value is None:
        return _without_value(figure, is_now, named_words, now, words, of)
    value = figure.value
    shown = amount(value, spec.unit, spec.digits, words, units)
    fresh = is_now is State.FRESH
    age = "" if figure.as_of is None else formats.age((now - figure.as_of).total_seconds(), words)
    one = rounded(value, spec.digits) == 1

    def sentence(amount_text: str) -> str:
        wording = named_words.fresh if fresh else named_words.stale
        return _about(of, _sentence(_fill(wording, one, words, amount=amount_text, age=age)), words)

    noun = _fill(named_words.noun if fresh else named_words.noun_then, one, words)
    return FigureText(
        value=shown.value,
        noun=noun,
        unit=shown.unit,
        state=is_now,
        as_of=_as_of(figure, is_now, now, words, age),
        basis=_basis(figure, spec, now, words, units),
        sentence=sentence(str(shown)),
        spoken=sentence(_spoken_amount(value, spec.unit, words, units)),
        how=words.gettext(named_words.how),
    )


def _without_value(
    figure: Figure, is_now: State, named_words: FigureWords, now: datetime, words: Words, of: str
) -> FigureText:
    as_of, text = "", words.gettext(named_words.unknown)
    if is_now is State.RESTING and figure.as_of is not None:
        last = formats.day(figure.as_of.astimezone(now.tzinfo).date(), words, now.date())
        text = words.gettext(named_words.resting, day=last)
        as_of = words.gettext("last: {day}", day=last)
    text, how = _about(of, text, words), words.gettext(named_words.how)
    noun = _fill(named_words.noun_then, False, words)
    return FigureText("", noun, "", is_now, as_of, "", text, text, how)


def _fill(wording: Wording, one: bool, words: Words, **values: object) -> str:
    if isinstance(wording, str):
        return words.gettext(wording, **values)
    return words.ngettext(*wording, 1 if one else 2, **values)


def _as_of(figure: Figure, is_now: State, now: datetime, words: Words, age: str) -> str:
    zone = now.tzinfo
    if figure.as_of is None or zone is None:
        return ""
    message = N_("as of {moment}, {age}") if is_now is State.STALE else N_("as of {moment}")
    return words.gettext(message, moment=formats.moment(figure.as_of, zone, words, now), age=age)


def _basis(figure: Figure, spec: Spec, now: datetime, words: Words, units: str) -> str:
    known = words.gettext(_BASES[figure.basis])
    if figure.low is not None and figure.high is not None:
        low, high = (amount(v, spec.unit, spec.digits, words, units) for v in (figure.low, figure.high))
        known = words.gettext("estimated, likely between {low} and {high}", low=low.value, high=high.value)
    if figure.corrected_at is None:
        return known
    day = formats.day(figure.corrected_at.astimezone(now.tzinfo).date(), words, now.date())
    lower = words.gettext("lower than before, because a record was corrected ({day})", day=day)
    return f"{known}; {lower}"


SMALL = 20
"""Whole numbers below this are spoken unrounded."""


def spoken_number(value: Decimal, words: Words) -> str:
    """Return a number as text, rounded to two digits with "about", "almost" or "a little over"."""
    near = _two_digits(value)
    text = number(near, 0 if near == near.to_integral_value() else 1, words)
    if near == value:
        return text
    if abs(near - value) * 100 < abs(value) or abs(value) < SMALL:
        return words.gettext("about {number}", number=text)
    if abs(value) < abs(near):
        return words.gettext("almost {number}", number=text)
    return words.gettext("a little over {number}", number=text)


def spoken_share(share: Decimal, words: Words) -> str:
    """Return a share of 0..1 as "about one part in 10", or in per cent above a half."""
    if Decimal("0.005") < share <= Decimal("0.5"):
        parts = (1 / share).quantize(Decimal(1), ROUND_HALF_UP)
        return words.gettext("about one part in {n}", n=number(parts, 0, words))
    return words.gettext("{number} percent", number=spoken_number(share * 100, words))


def spoken_hours(hours: Decimal, words: Words) -> str:
    """Return a duration in round minutes (below 1.75 hours), hours (below 36) or days."""
    if hours < Decimal("1.75"):
        minutes = max(_whole(hours * 12), 1) * 5
        return words.ngettext("{n} minute", "{n} minutes", minutes)
    if hours < 36:
        return words.ngettext("{n} hour", "{n} hours", _whole(hours))
    return words.ngettext("{n} day", "{n} days", _whole(hours / 24))


def _whole(value: Decimal) -> int:
    return int(value.quantize(Decimal(1), ROUND_HALF_UP))


def _two_digits(value: Decimal) -> Decimal:
    if value == 0 or (abs(value) < SMALL and value == value.to_integral_value()):
        return value
    return value.quantize(Decimal(1).scaleb(value.adjusted() - 1), ROUND_HALF_UP)


def _spoken_amount(value: float | int, unit: Unit, words: Words, units: str) -> str:
    if unit is Unit.COUNT:
        return spoken_number(exact(value), words)
    if unit is Unit.SHARE:
        return spoken_share(exact(value), words)
    if unit in (Unit.DAY, Unit.CUT, Unit.GRAVITY):
        return str(amount(value, unit, 3 if unit is Unit.GRAVITY else 0, words, units))
    if unit is Unit.HOUR:
        return spoken_hours(exact(value), words)
    if unit is Unit.PROOF:
        strength = {"proof": number(value, 0, words), "number": number(abv_of_proof(value), 0, words)}
        return words.gettext("about {proof} proof, {number} percent alcohol", **strength)
    converted, unit_name = spoken_unit(value, unit, words, units)
    return f"{spoken_number(converted, words)} {unit_name}"


def _about(of: str, text: str, words: Words) -> str:
    return words.gettext("{of}: {sentence}", of=of, sentence=text) if of else text


def _sentence(text: str) -> str:
    """Return a text with a capital first letter and one point at its end, also after "% alc./vol."."""
    whole = text[:-1] if text.endswith("..") else text
    return whole[:1].upper() + whole[1:]
