"""The walk on a guide's phone: the page of a group's present stop, and the steps that its buttons record."""

from datetime import datetime
from functools import partial

from flask import Response as FlaskResponse
from flask import abort, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kiosk.entries.entries import record_entry
from kiosk.entries.errors import EntryError
from kiosk.entries.pages import form_origin
from kiosk.site.content.rendering import Section, StatedFigure, sections
from kiosk.site.content.stops import Stop
from kiosk.store.engine import run
from kiosk.store.ledgers import new_key
from kiosk.tours.blueprint import PLANNERS, STEPPERS, bp, stop_names
from kiosk.tours.walk.page import Walk, plan_steps, step_now
from kiosk.tours.walk.page import walk as read_walk
from kiosk.tours.walk.steps import STEPS, StepEntry, take_over
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, page_reader, site_context, words
from kiosk.web.page import etag_of, not_modified, theme, under_etag
from kiosk.words.closures import REASON_WORDS
from kiosk.words.errors import sentence

BOTH = "both"
SHOWN_OPEN = ("open", "show", "points", "talk", "plan")
"""The sections of a guide's page that stand open on the walk, what is spoken first; the others are folded."""
MOST_FIGURES = 3
READERS = ("guide", "bar", "trainee", "manager")


@bp.get("/tours/<int:tour_id>/walk")
@open_to(*READERS)
def walk(tour_id: int) -> str:
    """Show a group's present stop in the group's language, or in several side by side (`?language=both`)."""
    return _walk_page(tour_id)


@bp.get("/tours/<int:tour_id>/walk/<part>")
@open_to(*READERS)
def walk_now(tour_id: int, part: str) -> Response:
    """Answer a part of the walk that changes, 304 where the phone has it, 205 when the group went on."""
    if part not in ("now", "act"):
        abort(404)
    seen, etag = _walk_now(tour_id)
    if request.args.get("stop", "") != seen.progress.position.stop:
        return FlaskResponse(status=205)
    if unchanged := not_modified(etag):
        return unchanged
    asked = request.args.get("language", "")
    code = asked if asked in site_context().words else words().language
    return under_etag(render_template(f"tours/_walk_{part}.html", **_walk_words(seen, code)), etag)


@bp.post("/tours/<int:tour_id>/steps")
@open_to(*STEPPERS)
def step(tour_id: int) -> Response:
    """Record a step of a tour and show where its group is."""
    here, at, sent = site_context(), now(), _sent_step(tour_id)
    if missing := _missing(sent.count):
        return make_response(_walk_page(tour_id, missing=missing), 409)
    try:
        run(here.store, lambda session: record_entry(session, here.site, STEPS, sent, at))
    except EntryError as refusal:
        return _refused(tour_id, refusal)
    return redirect(url_for("tours.walk", tour_id=tour_id), 303)


@bp.post("/tours/<int:tour_id>/walk/take-over")
@open_to(*PLANNERS)
def take_over_tour(tour_id: int) -> Response:
    """Make the person who asks the guide of a tour."""
    by, at = access.require_person().id, now()
    run(site_context().store, partial(take_over, tour_id=tour_id, by=by, at=at))
    return redirect(url_for("tours.walk", tour_id=tour_id), 303)


def _sent_step(tour_id: int) -> StepEntry:
    stop, place = forms.text("stop") or None, forms.text("place") or None
    return StepEntry(form_origin(), tour_id, forms.text("kind"), stop, forms.whole("count"), place)


def _missing(counted: int | None) -> int:
    """Return how many heads fewer were counted than the page expected, 0 once the guide has said so."""
    expected = forms.whole("expected") or 0
    return 0 if counted is None or forms.text("missing") else max(0, expected - counted)


def _refused(tour_id: int, refusal: EntryError) -> Response:
    return make_response(_walk_page(tour_id, sentence(refusal, words())), refusal.status)


def _walk_now(tour_id: int) -> tuple[Walk, str]:
    """Return a group's walk as of this minute, and the ETag of what a person sees of it."""
    here, minute = site_context(), _minute(now())
    with here.store.read() as session:
        seen = read_walk(session, here.site, here.content, tour_id, minute)
    person = access.require_person()
    return seen, etag_of(here.started, words().language, theme(), person.id, sorted(person.roles), seen)


def _minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


def _walk_page(tour_id: int, wrong: str = "", missing: int = 0) -> str:
    here = site_context()
    seen, etag = _walk_now(tour_id)
    spoken = [code for code in seen.tour.languages if code in here.words] or [words().language]
    wanted = request.args.get("language", spoken[0])
    codes = spoken if wanted == BOTH else [wanted if wanted in here.words else spoken[0]]
    stop = here.content.stops.get(seen.progress.position.stop)
    return render_template(
        "tours/walk.html",
        notes=[(here.words[code], _sections(stop, code)) for code in codes] if stop else (),
        figures=_figures(stop) if stop else (),
        spoken=spoken,
        wanted=wanted,
        etag=f'W/"{etag}"',
        wrong=wrong,
        missing=missing,
        open_sections=SHOWN_OPEN,
        **_walk_words(seen, codes[0]),
    )


def _sections(stop: Stop | None, code: str) -> list[Section]:
    """Return the sections of a stop's guide page in a language."""
    page = stop.pages.get(("guide", code)) if stop else None
    return sections(page_reader(site_context().words[code]).read(page)) if page else []


def _figures(stop: Stop) -> list[StatedFigure]:
    """Return the first figures of a stop that have a value now."""
    specs = site_context().registry.specs
    stated = [page_reader().stated(name) for name in stop.figures if name in specs and not specs[name].of]
    return [one for one in stated if one.text.value][:MOST_FIGURES]


def _walk_words(seen: Walk, code: str) -> dict[str, object]:
    """Return what the parts of the walk write beside it: the stops, the plan of this one, keys, reasons."""
    here = site_context()
    stop = here.content.stops.get(seen.progress.position.stop)
    plan = [
        step for part in _sections(stop, code) if part.id == "plan" for step in plan_steps(part.text, code)
    ]
    minutes = seen.here.stop.minutes if seen.here else 0
    beside: dict[str, object] = {
        "walk": seen,
        "stop": stop,
        "names": stop_names(),
        "stops": here.content.stops,
    }
    beside |= {"plan": plan, "plan_language": code, "step_now": step_now(plan, minutes, seen.share_gone)}
    return beside | {"new_key": new_key, "reason_words": REASON_WORDS}
