"""Why a pour is refused, as a sentence for the server and a kind one for the guest.

A reason is a code of the rules or the id of a limit. A limit is named by
what it bounds ("samples left today"); the guest is never blamed and is offered
something else. No sentence says that anyone is fit to drive.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.figures.drinks import ServiceState
from kiosk.figures.service.policy import Kind, Limit, ServicePolicy
from kiosk.words.catalogs import N_, Words

SERVICE_STATES: Mapping[ServiceState, tuple[str, str, str]] = {
    ServiceState.NOT_CHECKED: ("not_checked", "wait", N_("Age not checked")),
    ServiceState.MAY_BE_SERVED: ("may_be_served", "ok", N_("May be served")),
    ServiceState.NO_ALCOHOL: ("alcohol_free", "none", N_("Alcohol-free")),
    ServiceState.UNDER_AGE: ("alcohol_free", "none", N_("Alcohol-free")),
    ServiceState.SERVICE_STOPPED: ("service_stopped", "stop", N_("Service stopped")),
}
"""How staff see what a guest may be served: the look of the state, its mark, its words."""


@dataclass(frozen=True, slots=True)
class Reason:
    """The sentences of one reason: for staff, and for the guest."""

    staff: str
    guest: str


_SOMETHING_ELSE = N_("We cannot pour this one now. May we offer you water or something without alcohol?")
_SAMPLES_TODAY = N_(
    "Those were all the samples that we pour for one guest in a day. "
    "Water, something to eat and drinks without alcohol are here for you."
)
_SAMPLES_VISIT = N_(
    "Those were all the samples that we pour for one guest on a visit. "
    "Water, something to eat and drinks without alcohol are here for you."
)
_ENOUGH_TODAY = N_(
    "Another sample would be more than we pour for one guest in a day. "
    "Water, something to eat and drinks without alcohol are here for you."
)
_ENOUGH_VISIT = N_(
    "Another sample would be more than we pour for one guest on a visit. "
    "Water, something to eat and drinks without alcohol are here for you."
)
_A_PAUSE = N_(
    "We leave some time between samples here. Meanwhile, water, something to eat and drinks "
    "without alcohol are here for you."
)
_SMALLER = N_("We pour smaller samples here. May we pour you one of those, or something without alcohol?")

REASONS: Mapping[str, Reason] = {
    "not_checked": Reason(
        N_("Age not checked yet: check the ID first."),
        N_(
            "May we see an ID with your date of birth first? Until then, water, something to eat and "
            "drinks without alcohol are here for you."
        ),
    ),
    "no_alcohol": Reason(
        N_("No alcohol today, by the guest’s own wish."),
        N_("Today without alcohol, gladly: may we pour you something else that is good?"),
    ),
    "under_age": Reason(
        N_("Under the age for spirits: {age} years here."),
        N_("Spirits here are for guests of {age} and over. We have something without alcohol for you."),
    ),
    "service_stopped": Reason(
        N_("Service is stopped for this guest today."),
        N_(
            "We pour no more spirits for you today. Water, something to eat and drinks without alcohol "
            "are here for you, and we gladly help with the way home."
        ),
    ),
    "gone": Reason(N_("This guest has left the site."), _SOMETHING_ELSE),
    "dry": Reason(
        N_("No alcohol is poured today: a manager has set this."),
        N_("We pour no spirits today. May we offer you water or something good without alcohol?"),
    ),
    "hours": Reason(
        N_("Outside the hours in which spirits may be poured."),
        N_("At this hour we pour no spirits. May we offer you water or something without alcohol?"),
    ),
    "wait": Reason(N_("The time between two pours has not passed yet."), _A_PAUSE),
    "tour": Reason(
        N_("Spirits may be poured only with the tour."),
        N_("The tasting belongs to the tour: we pour for you there."),
    ),
    "room": Reason(
        N_("Spirits may not be poured in this room."),
        N_("We do not pour spirits in this place. We gladly do so in the tasting room."),
    ),
    "neat_only": Reason(
        N_("Spirits are poured neat here: no mixed drinks."),
        N_(
            "Here we pour the spirit by itself. May we pour you a small sample, or something without alcohol?"
        ),
    ),
    "not_own": Reason(
        N_("Not made here: only spirits of the house may be poured."),
        N_("We pour only what is made here. May we pour you one of ours, or something without alcohol?"),
    ),
    "no_policy": Reason(
        N_("No service rules are in force: nothing with alcohol is poured."), _SOMETHING_ELSE
    ),
    "other_day": Reason(N_("This guest number belongs to another day."), _SOMETHING_ELSE),
    "not_approved": Reason(
        N_("This is not approved for tasting."),
        N_("This one is not ready for tasting yet. May we pour you another, or something without alcohol?"),
    ),
    "server_age": Reason(N_("The server is under the age to serve spirits here."), _SOMETHING_ELSE),
    "server_permit": Reason(N_("The server holds no valid permit to serve."), _SOMETHING_ELSE),
}

LIMIT_REASONS: Mapping[tuple[Kind, str], Reason] = {
    (Kind.LARGEST, "pour"): Reason(N_("Larger than one pour may be."), _SMALLER),
    (Kind.SIZES, "pour"): Reason(
        N_("Not one of the sizes that may be poured."),
        N_("We pour in set sizes here. May we pour you one of those, or something without alcohol?"),
    ),
    (Kind.POURS, "day"): Reason(N_("No pours left today."), _SAMPLES_TODAY),
    (Kind.POURS, "visit"): Reason(N_("No pours left on this visit."), _SAMPLES_VISIT),
    (Kind.POURS, "window"): Reason(N_("No pours left in these {minutes} minutes."), _A_PAUSE),
    (Kind.VOLUME, "day"): Reason(N_("Not enough spirit remaining today for this pour."), _ENOUGH_TODAY),
    (Kind.VOLUME, "visit"): Reason(
        N_("Not enough spirit remaining on this visit for this pour."), _ENOUGH_VISIT
    ),
    (Kind.VOLUME, "window"): Reason(
        N_("Not enough spirit remaining in these {minutes} minutes for this pour."), _A_PAUSE
    ),
    (Kind.DRINKS, "day"): Reason(
        N_("Not enough standard drinks remaining today for this pour."), _ENOUGH_TODAY
    ),
    (Kind.DRINKS, "visit"): Reason(
        N_("Not enough standard drinks remaining on this visit for this pour."), _ENOUGH_VISIT
    ),
    (Kind.DRINKS, "window"): Reason(
        N_("Not enough standard drinks remaining in these {minutes} minutes for this pour."), _A_PAUSE
    ),
    (Kind.GAP, "window"): Reason(N_("The time between two pours has not passed yet."), _A_PAUSE),
    **{
        (Kind.GLASSES, span): Reason(
            N_("This guest has enough glasses in hand: press “Glass empty” when one is empty."),
            N_(
                "Take your time with the glass before you: the next can come once it is empty. "
                "Water and something to eat are here for you."
            ),
        )
        for span in ("day", "visit", "window")
    },
    (Kind.VISITS, "day"): Reason(
        N_("This guest was already served on another visit today."),
        N_(
            "You have tasted with us on an earlier visit today, and one tasting a day is what we pour. "
            "We have something without alcohol for you."
        ),
    ),
}

UNKNOWN = Reason(N_("A rule of the house does not allow this pour ({code})."), _SOMETHING_ELSE)


def for_staff(code: str, policy: ServicePolicy, words: Words) -> str:
    """Return why a pour is refused as a sentence for the server."""
    reason, facts = _reason(code, policy)
    return words.gettext(reason.staff, **facts)


def for_guest(code: str, policy: ServicePolicy, words: Words) -> str:
    """Return why a pour is refused as a kind sentence that the guest may read."""
    reason, facts = _reason(code, policy)
    return words.gettext(reason.guest, **facts)


def _reason(code: str, policy: ServicePolicy) -> tuple[Reason, Mapping[str, object]]:
    limit = next((limit for limit in policy.limits if limit.id == code), None)
    facts = {"code": code, "age": policy.guest_age, "minutes": limit.per if limit else ""}
    return LIMIT_REASONS[limit.kind, _span(limit)] if limit else REASONS.get(code, UNKNOWN), facts


def _span(limit: Limit) -> str:
    if limit.kind is Kind.GAP or not isinstance(limit.per, str):
        return "window"
    return limit.per
