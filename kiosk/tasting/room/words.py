"""The words of the room's script, by the names under which it asks for them."""

from collections.abc import Mapping

from kiosk.figures.drinks import Kind
from kiosk.site.settings import Units
from kiosk.tasting.room.corrections import REASONS
from kiosk.words.catalogs import N_, NN_

WORDS: Mapping[str, str] = {
    "tour": N_("Tour {letter}"),
    "guest": N_("Guest {number}"),
    "guest_named": N_("Guest {number} {name}"),
    "more_about": N_("{guest}: more"),
    "close": N_("Close"),
    # What stands at the foot of a seat.
    "seat_not_checked": N_("Check ID"),
    "seat_under_age": N_("Child"),
    "seat_no_alcohol": N_("No alcohol"),
    "seat_limit_reached": N_("Limit reached"),
    "seat_service_stopped": N_("Stopped"),
    "seat_gone": N_("Has left"),
    "one_or_two": N_("One or two?"),
    "tell_manager": N_("Flagged"),
    # The flight and the foot of the room.
    "had_of": N_("{n} of {all}"),
    "not_in_round": N_("Not now:"),
    "left_not_checked": N_("ID"),
    "left_service_stopped": N_("stopped"),
    "left_wait": N_("a pause"),
    "left_hours": N_("not at this hour"),
    "undo": N_("Undo"),
    "undo_round": N_("Undo round"),
    "changed_meanwhile": N_("Something else was poured meanwhile for {guests}: pour another?"),
    "pour_another": N_("Pour another"),
    "leave_it": N_("Leave it"),
    "alone": N_("Alone since {time}. Not sent yet: {n}. It is kept here and sent again."),
    "open_one": N_("Open one"),
    "no_rules": N_("No service rules are in force: nothing with alcohol is poured."),
    "no_flight": N_("This tour has no flight: choose one for it first."),
    "nobody_yet": N_("No guest of this tour is checked in yet."),
    # The sheet of a guest.
    "pour": N_("Pour {sample}"),
    "ask_first": N_("Ask first: {allergens}"),
    "drinks_served": N_("{n} standard drinks served"),
    "all_served": N_("All samples of the flight are served."),
    "is_it_one": N_("{sample}, {time}, {name}: another tablet recorded the same sample. One glass or two?"),
    "both_poured": N_("Both were poured"),
    "it_was_one": N_("It was one glass"),
    "id_check": N_("ID checked"),
    "no_alcohol": N_("No alcohol today"),
    "no_alcohol_lifted": N_("Drinking after all"),
    "service_resumed": N_("Resume service"),
    "gone": N_("Has left"),
    "back": N_("Is back"),
    "other_pour": N_("Other pour"),
    "skip": N_("Skip this sample"),
    "take_back": N_("Take back last pour"),
    "move_pour": N_("Move last pour"),
    "unfinished": N_("Not finished or spat out"),
    "finished": N_("Glass empty"),
    "show_guest": N_("Show guest"),
    "to_guest": N_("Move last pour to guest"),
    "what_happened": N_("What happened"),
    "not_served": N_("Poured, not served"),
    "nothing_poured": N_("Nothing was poured"),
    "why": N_("Why"),
    "claimed_counts": N_(
        "The server of a claimed pour was not signed in on that tablet. It counts as served."
    ),
    "asks_again": N_("Asks again before it counts"),
    "under_age": N_("Under age"),
    "service_stopped": N_("Stop serving"),
    "sure_under_age": N_("Guest {guest} is under age? Only a second person’s check of an ID takes it back."),
    "sure_service_stopped": N_(
        "Stop serving guest {guest}? No more spirits today, on any tablet. Only a manager resumes it."
    ),
    "yes_under_age": N_("Yes, under age"),
    "yes_service_stopped": N_("Yes, stop serving"),
    **{f"why_{code}": label for code, label in REASONS.items()},
}
COUNTED_WORDS: Mapping[str, tuple[str, str]] = {
    "n_pours": NN_("{n} pour", "{n} pours"),
    "n_guests": NN_("{n} guest", "{n} guests"),
    "n_left": NN_("{n} left", "{n} left"),
    "n_behind": NN_("{n} behind", "{n} behind"),
    "pour_for": NN_("Pour for {n}", "Pour for {n}"),
    "n_preset": NN_(
        "{n} pre-poured glass waits for its guest.", "{n} pre-poured glasses wait for their guests."
    ),
    "n_needs": NN_("{n} note", "{n} notes"),
}
LEFT_OF_LIMIT: Mapping[tuple[Kind, Units | None], tuple[str, str]] = {
    (Kind.VOLUME, Units.US): NN_("{n} fl oz left", "{n} fl oz left"),
    (Kind.VOLUME, Units.METRIC): NN_("{n} mL left", "{n} mL left"),
    (Kind.DRINKS, None): NN_("{n} drink left", "{n} drinks left"),
    (Kind.POURS, None): NN_("{n} pour left", "{n} pours left"),
    (Kind.GLASSES, None): NN_("{n} glass left", "{n} glasses left"),
}
"""What is left of a limit in its own unit; standard drinks are meant."""
