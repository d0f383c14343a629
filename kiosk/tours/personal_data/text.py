"""Ledger entries about a guest as sentences for the guest who asks what is kept of them."""

from collections.abc import Mapping
from fractions import Fraction

from kiosk.figures.figure import Unit
from kiosk.site.products import product_name
from kiosk.site.settings import Site
from kiosk.tours.personal_data.records import KeptEntry
from kiosk.words import reasons, units
from kiosk.words.catalogs import N_, Words

KINDS: Mapping[str, Mapping[str, str]] = {
    "marks": {
        "id_check": N_("ID checked"),
        "under_age": N_("under age"),
        "no_alcohol": N_("No alcohol today"),
        "no_alcohol_lifted": N_("Drinking after all"),
        "service_stopped": N_("service stopped"),
        "service_resumed": N_("service resumed"),
        "gone": N_("left the site"),
        "back": N_("came back to the site"),
        "liked": N_("liked a sample"),
        "declined": N_("declined a sample"),
    },
    "pour_marks": {
        "void": N_("a pour entered by mistake was undone"),
        "not_served": N_("Poured, not served"),
        "cleared": N_("a pre-poured glass was removed"),
        "reassign": N_("a pour was moved to another guest"),
        "seated": N_("pre-poured"),
        "unfinished": N_("not finished or spat out"),
        "finished": N_("finished the glass"),
    },
    "pours": {"poured": N_("poured: {glass}, {size}")},
    "refusals": {"refused": N_("refused: {glass}, {size}. {reasons}")},
}
"""What each kind of entry says, by ledger."""


def described(entry: KeptEntry, site: Site, words: Words) -> str:
    """Return what an entry says, in a few words."""
    size = units.amount(Fraction(entry.volume_ul, 1000), Unit.ML, 2, words, site.units)
    why = " ".join(reasons.for_staff(code, site.policy, words) for code in entry.reasons)
    message = KINDS[entry.ledger].get(entry.kind, entry.kind)
    return words.gettext(message, glass=product_name(site, entry.glass, words), size=size, reasons=why)
