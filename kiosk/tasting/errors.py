"""The errors that the rooms of the tasting share; what only one of them raises stands beside its code."""

from kiosk.entries.errors import EntryError
from kiosk.words.catalogs import N_


class TastingError(EntryError):
    """What the tasting room cannot record as it was sent; nothing was changed."""


class WhyMissing(TastingError):
    """The reason is missing that a manager has to give, for a restriction or the end of an approval."""

    message = N_("Say in a few words why.")
