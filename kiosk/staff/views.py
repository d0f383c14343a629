"""Staff pages of the house itself: enrolling a device, signing in and out, devices, people."""

from __future__ import annotations

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.staff import devices as device_list
from kiosk.staff import people as staff_list
from kiosk.staff import permit_views, sessions
from kiosk.staff.blueprint import bp
from kiosk.staff.devices import Device
from kiosk.staff.enrolment import enrol_with_first_manager, needs_manager
from kiosk.staff.errors import StaffError
from kiosk.staff.pins import hash_pin
from kiosk.staff.sessions import Person
from kiosk.web import access, forms
from kiosk.web.access import open_to
from kiosk.web.context import now, site_context, words
from kiosk.words.errors import sentence

__all__ = ["bp", "permit_views"]

DEVICE_COOKIE_S = 400 * 86_400  # as long as browsers keep any cookie


@bp.get("/enrol")
@open_to("stranger", "device")
def enrol() -> str:
    """Ask for a one-time code, and for the first manager where there is nobody yet."""
    return _enrol_page({})


FIRST_PAGES = {"tablet": "/staff/sign-in", "wall": "/staff/wall"}
"""Where a device goes once it is enrolled; the others go to the guests' first page."""


@bp.post("/enrol")
@open_to("stranger", "device")
def do_enrol() -> Response:
    """Exchange the code for this device's cookie."""
    fields = {name: forms.text(name) for name in ("code", "name", "pin", "pin_again")}
    try:
        with site_context().store.write() as session:
            enrolled = enrol_with_first_manager(
                session, site_context().site, **fields, language=words().language, now=now()
            )
    except StaffError as refusal:
        return make_response(_enrol_page(_told(refusal)), refusal.status)
    answer = redirect(FIRST_PAGES.get(enrolled.kind, "/"))
    forms.set_cookie(answer, access.DEVICE_COOKIE, enrolled.token, DEVICE_COOKIE_S)
    answer.delete_cookie(access.PERSON_COOKIE)
    return answer


@bp.get("/sign-in")
@open_to("device")
def sign_in() -> str:
    """Ask who one is, and for the PIN."""
    return _sign_in_page({})


@bp.post("/sign-in")
@open_to("device")
def do_sign_in() -> Response:
    """Check the PIN and let the person in."""
    try:
        token = sessions.sign_in(
            site_context().store,
            site_context().site,
            forms.whole("person") or 0,
            _here().id,
            forms.text("pin"),
            now(),
        )
    except StaffError as refusal:
        return make_response(_sign_in_page(_told(refusal)), refusal.status)
    return _let_in(token)


@bp.post("/step-in")
@open_to("device")
def step_in() -> Response:
    """Change who acts on this device to somebody whose sign-in still lasts."""
    with site_context().store.write() as session:
        token = sessions.step_in(session, site_context().site, forms.whole("person") or 0, _here().id, now())
    return _let_in(token) if token else redirect(url_for("staff.sign_in"))


@bp.post("/sign-out")
@open_to("device")
def sign_out() -> Response:
    """End the person's sign-in on this device."""
    somebody = access.person()
    if somebody:
        with site_context().store.write() as session:
            sessions.sign_out(session, somebody.id, _here().id)
    answer = redirect(url_for("staff.sign_in"))
    answer.delete_cookie(access.PERSON_COOKIE)
    return answer


@bp.get("/devices")
@open_to("manager")
def devices() -> str:
    """List the devices and offer a code for another one."""
    return _devices_page({})


@bp.post("/devices")
@open_to("manager")
def new_device() -> Response:
    """Make a one-time code and show it once."""
    name, kind, room = forms.text("name"), forms.text("kind"), forms.text("room")
    try:
        with site_context().store.write() as session:
            code = device_list.new_code(session, site_context().site, name, kind, room, now(), by=_me().id)
    except StaffError as refusal:
        return make_response(_devices_page(_told(refusal)), refusal.status)
    return make_response(_devices_page({}, code=code, code_name=name))


@bp.post("/devices/<int:device_id>/revoke")
@open_to("manager")
def revoke_device(device_id: int) -> Response:
    """Shut a device out."""
    with site_context().store.write() as session:
        device_list.revoke(session, device_id, forms.whole("revision") or 0, now(), by=_me().id)
    return redirect(url_for("staff.devices"))


@bp.get("/people")
@open_to("manager")
def people() -> str:
    """List who works here and offer to add somebody."""
    return _people_page({})


@bp.post("/people")
@open_to("manager")
def new_person() -> Response:
    """Add somebody with a PIN, roles and languages."""
    roles, languages = request.form.getlist("role"), request.form.getlist("language")
    site, name, by = site_context().site, forms.text("name"), _me().id
    try:
        kept = hash_pin(forms.text("pin"), site)
        with site_context().store.write() as session:
            staff_list.add_person(session, site, name, kept, roles, languages, now(), by=by)
    except StaffError as refusal:
        return make_response(_people_page(_told(refusal)), refusal.status)
    return redirect(url_for("staff.people"))


@bp.get("/people/<int:person_id>")
@open_to("manager")
def person(person_id: int) -> str:
    """Show somebody's roles, and what a manager may do for them."""
    return _person_page(person_id, {})


@bp.post("/people/<int:person_id>")
@open_to("manager")
def change_person(person_id: int) -> Response:
    """Give somebody other roles, lift their waits, or let them leave."""
    act, roles, by, at, site = (
        forms.text("act"),
        request.form.getlist("role"),
        _me().id,
        now(),
        site_context().site,
    )
    try:
        with site_context().store.write() as session:
            if act == "lift":
                sessions.lift_waits(session, person_id)
            elif act == "leave":
                staff_list.leave(session, site, person_id, at, by=by)
                sessions.sign_out_everywhere(session, person_id)
            else:
                staff_list.change_roles(session, site, person_id, roles, at, by=by)
    except StaffError as refusal:
        return make_response(_person_page(person_id, _told(refusal)), refusal.status)
    return redirect(url_for("staff.people"), 303)


def _here() -> Device:
    found = access.device()
    if found is None:
        raise NotFound()
    return found


def _me() -> Person:
    found = access.person()
    if found is None:
        raise NotFound()
    return found


def _let_in(token: str) -> Response:
    answer = redirect(forms.local_path(request.form.get("to"), "/staff/"))
    forms.set_cookie(answer, access.PERSON_COOKIE, token)
    return answer


def _told(refusal: StaffError) -> dict[str, str]:
    return {refusal.field or "form": sentence(refusal, words())}


def _enrol_page(wrong: dict[str, str]) -> str:
    with site_context().store.read() as session:
        first = needs_manager(session)
    return render_template("staff/enrol.html", wrong=wrong, first=first)


def _sign_in_page(wrong: dict[str, str]) -> str:
    with site_context().store.read() as session:
        everybody = staff_list.members(session, site_context().site, now())
        around = sessions.may_step_in(session, _here().id, now())
    to = forms.local_path(request.values.get("to"), "/staff/")
    chosen = forms.whole("person") or request.args.get("person", type=int)
    return render_template(
        "staff/sign_in.html", wrong=wrong, people=everybody, around=around, to=to, chosen=chosen
    )


def _devices_page(wrong: dict[str, str], code: str = "", code_name: str = "") -> str:
    with site_context().store.read() as session:
        every = device_list.listed(session)
    return render_template(
        "staff/devices.html",
        wrong=wrong,
        devices=every,
        kinds=device_list.KINDS,
        sender=device_list.SENDER,
        code=code,
        code_name=code_name,
    )


def _people_page(wrong: dict[str, str]) -> str:
    with site_context().store.read() as session:
        everybody = staff_list.members(session, site_context().site, now())
    return render_template(
        "staff/people.html", wrong=wrong, people=everybody, role_names=staff_list.ROLE_NAMES
    )


def _person_page(person_id: int, wrong: dict[str, str]) -> str:
    with site_context().store.read() as session:
        everybody = staff_list.members(session, site_context().site, now())
    found = next((one for one in everybody if one.id == person_id), None)
    if found is None:
        raise NotFound()
    return render_template("staff/person.html", wrong=wrong, one=found, role_names=staff_list.ROLE_NAMES)
