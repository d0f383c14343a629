"""What may be wrong with records: one code for each, and its sentence in the reader's language."""

from collections.abc import Mapping
from enum import Enum, unique

from kiosk.figures.figure import Unit
from kiosk.words.catalogs import N_, Words
from kiosk.words.errors import fact_text
from kiosk.words.units import METRIC, recorded_amount


@unique
class FaultCode(Enum):
    """A fault of a record. Its lower-case name is what is stored; its value is the English sentence.

    A sentence names `found` (what was written), `column`, `file`, `row` and facts of its own.
    """

    # a value
    NEEDED = N_("this value is needed.")
    EMPTY_CELL = N_("the cell is empty. This value is needed.")
    NOT_A_NUMBER = N_("{found} is not a number. Write digits and a point, such as {example}.")
    NOT_A_NUMBER_HERE = N_("“{found}” is not a number that can be read here. Write it like {example}.")
    TWO_NUMBERS = N_("{found} may be {decimal} or {thousands}. Write it as one of these.")
    NOT_WHOLE = N_("{found} is not a whole number. Write it as {example}.")
    OUT_OF_RANGE = N_("{found} lies outside {low} to {high}. Check the figure and its unit.")
    NOT_A_MOMENT = N_("{found} is not a time. Write the site's own clock, such as {example}.")
    NOT_ON_THE_CLOCK = N_(
        "{found} has an offset that the site's own clock has not at that time. Write {allowed}."
    )
    CLOCK_SKIPS = N_(
        "{found} never was: that night the site's clock went forward. Was it {before} or {after}?"
    )
    CLOCK_TWICE = N_(
        "{found} came twice: that night the site's clock went back. Say which: {first} or {second}."
    )
    NOT_A_DAY = N_("{found} is not a day. Write it as {example}.")
    SERIAL_NUMBER = N_(
        "{found} is the number that a spreadsheet keeps for a day. "
        "Format the column as a date, or write it as {example}."
    )
    TOO_EARLY = N_(
        "{found} lies before {year}; a spreadsheet writes such days for an empty or "
        "mistaken cell. Write the day itself, such as {example}."
    )
    NOT_A_CODE = N_("{found} is not a code. Use up to 40 letters, digits, dots and dashes.")
    NOT_A_CHOICE = N_("{found} is not known here. Write one of: {allowed}.")
    TOO_LONG = N_("the text is longer than {most} signs. Shorten it.")
    # a file
    NO_FILES = N_("{found} holds no file of records. Their names are: {allowed}; or the same with .xlsx.")
    UNKNOWN_FILE = N_(
        "{file} is not a file of records. Take it out, or save it under one of these names: {allowed}; "
        "or the same with .xlsx."
    )
    TWO_FILES = N_("{file} and {found} hold the same kind of record. Take one of them out.")
    TOO_LARGE = N_("{file} is larger than {most} MB. Divide it.")
    TOO_MANY_ROWS = N_("{file} holds more than {most} rows. Divide it.")
    NOT_UTF8 = N_('a letter here is not in UTF-8. Save the file anew as "CSV UTF-8".')
    OPEN_QUOTE = N_("a quote is opened and not closed. Close it, or double a quote inside a text.")
    NO_COLUMN = N_("the column {column} is missing. Put it into the header.")
    UNKNOWN_COLUMN = N_(
        "the column {column} is not known. Take it out or correct its name; known here are: {allowed}."
    )
    COLUMN_TWICE = N_("the column {column} stands twice. Take one of the two out.")
    NO_HEADING = N_("column number {found} has no heading. Write it, or take the column out.")
    HEADINGS_LOWER = N_("the headings stand here and not at the top. Take out the rows above them.")
    CELL_COUNT = N_(
        "{found} cells stand under {wanted} headings. Check separators and quotes; "
        "a number with a decimal comma needs quotes here."
    )
    NOT_A_WORKBOOK = N_(
        "{file} is not a workbook that can be read. Save it as .xlsx without a password, or as CSV UTF-8."
    )
    UNSAFE_WORKBOOK = N_(
        "{file} holds declarations or sizes that no spreadsheet writes, and was not opened. "
        "Save it anew as .xlsx, or as CSV UTF-8."
    )
    WORKBOOK_TOO_LARGE = N_(
        "{file} holds more than {cells} cells, or more than {most} MB once it is unpacked. "
        "Divide it, or save it as CSV UTF-8."
    )
    SEVERAL_SHEETS = N_(
        "{file} has {found} with something in them. Keep the sheet of records and move the others to a file "
        "of their own."
    )
    MERGED_CELLS = N_("the cells {found} are merged. Undo that and write each value into its cell.")
    NOT_WORKED_OUT = N_(
        "the formula in {found} was never worked out. Open the file in a spreadsheet, "
        "save it, or write the value itself."
    )
    ERROR_CELL = N_("the cell {found} holds an error, {error}. Put it right.")
    CELL_FAR_OUT = N_("the cell {found} stands far outside any table of records. Delete it.")
    # a record alone
    ROW_TWICE = N_("{found} stands already in row {first}. Take one of the two out.")
    IN_FUTURE = N_("{found} lies in the future. Check the date and the time.")
    ENDS_BEFORE_START = N_("{found} lies before {first}, its beginning. Check both times.")
    NOT_CALCULABLE = N_(
        "no strength can be worked out of {found} (allowed is {allowed}). "
        "Check reading, scale and temperature."
    )
    NOT_AN_INSTRUMENT = N_(
        "{found} is none of the instruments here. Write the number of one, or one of: {allowed}."
    )
    NO_TARE = N_("the cask of {found} has no tare. Write its tare into casks.csv.")
    NO_VALUE = N_("the cell is empty. A measurement of this kind needs this value.")
    NO_MEASURE = N_("no amount is written. Write {wanted}.")
    ONE_MEASURE = N_("{found} values are given. Give one of cane, sugar or alcohol.")
    NOT_THE_MEASURE = N_("what goes into this batch is measured otherwise. Fill {wanted} instead.")
    ABOVE_PURE = N_("{found} % vol is more than pure alcohol. Check the reading and its scale.")
    A_TOPPING = N_(
        "a topping opens a new fill. In fills.csv close the old one and write the new one at the same "
        "time; in draws.csv write what went into it, from the old fill and from elsewhere."
    )
    PART_NEEDED = N_("this value is needed for what goes in here.")
    PART_TWICE = N_("{found} is named twice. Add the two together.")
    NO_PARTS = N_("say what goes in.")
    LESS_THAN_ADDED = N_("the cask would hold less pure alcohol than was added. Check both measurements.")
    # a record beside others
    UNKNOWN_CODE = N_("there is no {kind} {found}. Correct the code, or record it first.")
    RECORDED_ALREADY = N_("there is such a record already. Look at it and correct it instead.")
    ENTERED_BY_HAND = N_("{found} was recorded by hand already. Take the row out, or correct it there.")
    NOT_FILLED = N_("this cask held nothing at that time. Check cask and time.")
    IN_USE = N_("{found} held {other} at that time, or holds it later. End that first, or check the time.")
    ENDED_ALREADY = N_("{found} has ended already.")
    LOOP = N_("{found} comes back into itself by way of {others}. Check the codes.")
    DRAWN_TOO_LATE = N_(
        "{found} is drawn into after something was drawn out of it. Open a new batch for what was added."
    )
    OUTSIDE_FILL = N_("{found} lies outside the time that this fill was in its cask. Check fill and time.")
    # what is implausible
    OVER = N_("{found} are drawn out of {batch}, which held {held}. Check both measurements.")
    OVER_SUGAR = N_(
        "{found} of sugar are drawn out of {batch}, whose juice held {held} of it. Check Brix and volumes."
    )
    OVER_ESTIMATE = N_(
        "{found} are drawn out of {batch}, which by its own readings held {held}. Check both measurements."
    )
    MORE_BOTTLES = N_(
        "the bottles hold {found}, but {held} were drawn into the lot. Check bottles, strength and draws."
    )
    OVERFULL = N_("{found} of spirit are more than the cask holds, {held}. Check the gauge.")
    GAIN = N_(
        "the cask would have gained {found} since its gauge before or until the one after; "
        "two honest gauges differ by {most} at most. Check cask, volume and strength."
    )
    MORE_THAN_WASH = N_(
        "the run would have given {found} out of a charge that held {most}. "
        "Check volume, strength and charge."
    )
    NOT_RISING = N_("{found} do not fit the readings before and after. Check the volume collected.")
    GRAVITY_RANGE = N_(
        "a gravity of {found} lies outside {low} to {high}; water has 1.0000, and a wash of cane starts near "
        "1.0600. Check the decimal point, and whether Brix was read."
    )
    BRIX_RANGE = N_(
        "{found} °Bx lie outside {low} to {high} °Bx. Check the decimal point, and whether gravity was read."
    )
    PH_RANGE = N_(
        "a pH of {found} lies outside {low} to {high}. Check the decimal point, and calibrate the meter."
    )
    WASH_TEMPERATURE = N_(
        "{found} lies outside {low} to {high}, between which a wash ferments. Check the decimal point "
        "and the unit of the thermometer."
    )
    JUICE_OF_CANE = N_(
        "{cane_kg} of cane would have given {found} of juice; a mill gets {low} to {high} out of that. "
        "Check both amounts and their units."
    )
    CUT_GOES_BACK = N_(
        "{cut} stands after {cut_before}, but heads, hearts and tails follow each other. "
        "Check the cut and the time."
    )
    FALLS_TOO_FAST = N_(
        "the strength would have fallen from {before} to {found} % vol within {minutes} minutes, which no "
        "still does. Check reading and scale, and whether water stood in the parrot."
    )
    LOSES_TOO_MUCH = N_(
        "the cask would have lost {found} since its gauge before; in its store at most "
        "{most} are to be expected. Check cask, volume and strength. If it leaked, record the leak first."
    )
    UNLISTED_PRODUCT = N_(
        "{found} is neither a product nor an experiment of the house. Those are: {allowed}. If it is a new "
        "experiment, declare it under Names, or confirm this one."
    )
    HELD_WITH_ANOTHER = N_("{found} is held back itself. Settle that one first; this one follows it.")

    def __str__(self) -> str:
        return self.name.lower()


_ALCOHOL = {"found": Unit.LPA, "held": Unit.LPA}
_ALCOHOL_AT_MOST = {"found": Unit.LPA, "most": Unit.LPA}
_AMOUNTS: Mapping[str, Mapping[str, Unit]] = {
    FaultCode.OVER.value: _ALCOHOL,
    FaultCode.OVER_ESTIMATE.value: _ALCOHOL,
    FaultCode.MORE_BOTTLES.value: _ALCOHOL,
    FaultCode.GAIN.value: _ALCOHOL_AT_MOST,
    FaultCode.MORE_THAN_WASH.value: _ALCOHOL_AT_MOST,
    FaultCode.LOSES_TOO_MUCH.value: _ALCOHOL_AT_MOST,
    FaultCode.OVER_SUGAR.value: {"found": Unit.KG, "held": Unit.KG},
    FaultCode.OVERFULL.value: {"found": Unit.L, "held": Unit.L},
    FaultCode.NOT_RISING.value: {"found": Unit.L},
    FaultCode.WASH_TEMPERATURE.value: dict.fromkeys(("found", "low", "high"), Unit.CELSIUS),
    FaultCode.JUICE_OF_CANE.value: {"cane_kg": Unit.KG, **dict.fromkeys(("found", "low", "high"), Unit.L)},
}
"""The facts of a message that are amounts, which stand in it in the units of the site."""

_ABOUT_HEADINGS = frozenset({FaultCode.NO_COLUMN, FaultCode.UNKNOWN_COLUMN, FaultCode.COLUMN_TWICE})
"""Their sentences name the column; the row is that of the headings."""

IN_ROW = N_("{file}, row {row}: {sentence}")
IN_CELL = N_("{file}, row {row}, {column}: {sentence}")


def fault_sentence(code: FaultCode, facts: Mapping[str, object], words: Words, units: str) -> str:
    """Return the sentence of a fault as it stands beside its field, which names the place already."""
    return field_sentence(code.value, facts, words, units)


def field_sentence(message: str, facts: Mapping[str, object], words: Words, units: str) -> str:
    """Return a message with its facts in the reader's language, as it stands beside a field."""
    text = words.translations.gettext(message)
    # A sentence that begins with what was written leaves that as it was written.
    return (text[:1].upper() + text[1:]).format(**_texts(message, facts, words, units))


def fault_line(code: FaultCode, facts: Mapping[str, object], words: Words) -> str:
    """Return the sentence of a fault after its place in a file, whose units are metric.

    `facts` name file, row and column.
    """
    if not facts["row"]:
        return fault_sentence(code, facts, words, METRIC)
    texts = _texts(code.value, facts, words, METRIC)
    sentence = words.translations.gettext(code.value).format(**texts)
    place = IN_CELL if facts["column"] and code not in _ABOUT_HEADINGS else IN_ROW
    return words.gettext(place, **{**texts, "sentence": sentence})


def _texts(message: str, facts: Mapping[str, object], words: Words, units: str) -> dict[str, str]:
    texts = {name: fact_text(value, words) for name, value in facts.items()}
    # The number of a row is a name: no sign parts its thousands.
    if "row" in facts:
        texts["row"] = str(facts["row"])
    # Kinds of record and cuts are called as on a page.
    for name in ("kind", "cut", "cut_before"):
        if name in facts:
            texts[name] = words.translations.gettext(str(facts[name]))
    for name, unit in _AMOUNTS.get(message, {}).items():
        kept = str(facts[name]).partition(" ")[0]  # earlier versions kept the unit too
        texts[name] = recorded_amount(float(kept), unit, words, units)
    return texts
