"""Staff pages about the staff itself: enrolling a device, signing in and out, devices, people, permits."""

from functools import partial

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from kiosk.staff import devices as device_rules
from kiosk.staff import people as staff_list
from kiosk.staff import permits as permit_rules
from kiosk.staff import sessions, sign_offs, waits
from kiosk.staff.errors import Refusal, StaffError
from kiosk.staff.people import hash_pin
from kiosk.store.engine import run
from kiosk.web import access, forms, language
from kiosk.web.access import open_to, require_device, require_person
from kiosk.web.context import cookie, now, site_context, words
from kiosk.web.forms import Wrong, refused_by
from kiosk.words import formats

bp = Blueprint("staff", __name__, template_folder="templates", url_prefix="/staff")

FIRST_PAGES = {"tablet": "/staff/sign-in", "wall": "/staff/wall"}
"""Where a device goes once it is enrolled; the others go to the guests' first page."""


def _enrol_page(wrong: Wrong) -> str:
    with site_context().store.read() as session:
        first = not staff_list.has_people(session)
    return render_template("staff/enrol.html", wrong=wrong, first=first)


@bp.get("/enrol")
@open_to("stranger", "device")
def enrol() -> str:
    """Ask for a one-time code, and for the first manager on a site without people."""
    return _enrol_page({})


@bp.post("/enrol")
@open_to("stranger", "device")
@refused_by(_enrol_page)
def do_enrol() -> Response:
    """Exchange the code for this device's cookie."""
    fields = {name: forms.text(name) for name in ("code", "name", "pin", "pin_again")}
    _require_valid_code(fields["code"])
    with site_context().store.write() as session:
        enrolled = device_rules.enrol_with_first_manager(
            session, site_context().site, **fields, language=words().language, now=now()
        )
    answer = redirect(FIRST_PAGES.get(enrolled.kind, "/"))
    forms.set_cookie(answer, access.DEVICE_COOKIE, enrolled.token, access.DEVICE_COOKIE_S)
    forms.delete_cookie(answer, access.PERSON_COOKIE)
    return answer


def _require_valid_code(code: str) -> None:
    """Raise StaffError for a wrong code, before anything is written; few are allowed from one address."""
    wrong, address = site_context().wrong_codes, request.remote_addr
    if seconds := wrong.wait_s(address, now()):
        raise StaffError(Refusal.TOO_MANY_CODES, seconds=seconds)
    try:
        with site_context().store.read() as session:
            device_rules.require_valid_code(session, site_context().site, code, now())
    except StaffError:
        wrong.count(address, now())
        raise


def _sign_in_page(wrong: Wrong) -> str:
    with site_context().store.read() as session:
        people = staff_list.members(session, site_context().site, now())
        signed_in = sessions.may_step_in(session, require_device().id, now())
    return render_template(
        "staff/sign_in.html",
        wrong=wrong,
        people=people,
        signed_in=signed_in,
        to=forms.local_path(request.values.get("to"), "/staff/"),
        chosen=forms.whole("person") or forms.digits(request.args.get("person", "")),
    )


@bp.get("/sign-in")
@open_to("device")
def sign_in() -> str:
    """Ask for a name and its PIN."""
    return _sign_in_page({})


@bp.post("/sign-in")
@open_to("device")
@refused_by(_sign_in_page)
def do_sign_in() -> Response:
    """Check the PIN and sign the person in."""
    here, person_id = site_context(), forms.whole("person") or 0
    token = sessions.sign_in(here.store, here.site, person_id, require_device().id, forms.text("pin"), now())
    return _signed_in(token)


@bp.post("/step-in")
@open_to("device")
def step_in() -> Response:
    """Change who acts on this device to a person whose sign-in still lasts."""
    person_id, device_id = forms.whole("person") or 0, require_device().id
    with site_context().store.write() as session:
        token = sessions.step_in(session, site_context().site, person_id, device_id, now())
    return _signed_in(token) if token else redirect(url_for("staff.sign_in"))


def _signed_in(token: str) -> Response:
    answer = redirect(forms.local_path(request.form.get("to"), "/staff/"))
    forms.set_cookie(answer, access.PERSON_COOKIE, token)
    answer.delete_cookie(language.COOKIE)  # it was the choice of the person before
    return answer


def _own_pin_page(wrong: Wrong) -> str:
    return render_template("staff/own_pin.html", wrong=wrong)


@bp.get("/pin")
@open_to(*staff_list.ROLES)
def own_pin() -> str:
    """Ask the person signed in for a new PIN of their own."""
    return _own_pin_page({})


@bp.post("/pin")
@open_to(*staff_list.ROLES)
@refused_by(_own_pin_page)
def change_own_pin() -> Response:
    """Change the PIN of the person signed in; without a temporary one the present PIN is asked too."""
    here, person = site_context(), require_person()
    if not person.pin_temporary:
        try:
            sessions.check_pin(
                here.store, here.site, person.id, require_device().id, forms.text("present"), now()
            )
        except StaffError as refusal:
            refusal.field = "present"
            raise
    token, pins = cookie(access.PERSON_COOKIE), (forms.text("pin"), forms.text("pin_again"))
    sessions.change_own_pin(here.store, here.site, person, token, *pins, now())
    return redirect("/staff/", 303)


@bp.post("/sign-out")
@open_to("device")
def sign_out() -> Response:
    """End the person's sign-in on this device."""
    person = access.person()
    if person:
        with site_context().store.write() as session:
            sessions.sign_out(session, person.id, require_device().id, now())
    answer = redirect(url_for("staff.sign_in"))
    forms.delete_cookie(answer, access.PERSON_COOKIE)
    answer.delete_cookie(language.COOKIE)
    return answer


def _devices_page(wrong: Wrong, code: str = "", code_name: str = "") -> str:
    with site_context().store.read() as session:
        devices = device_rules.list_devices(session)
    return render_template(
        "staff/devices.html",
        wrong=wrong,
        devices=devices,
        kinds=device_rules.KINDS,
        sender=device_rules.SENDER,
        code=code,
        code_name=code_name,
    )


@bp.get("/devices")
@open_to("manager")
def devices() -> str:
    """List the devices and offer a code for another one."""
    return _devices_page({})


@bp.post("/devices")
@open_to("manager")
@refused_by(_devices_page)
def new_device() -> Response:
    """Make a one-time code and show it once."""
    name, kind, room, by = forms.text("name"), forms.text("kind"), forms.text("room"), require_person().id
    with site_context().store.write() as session:
        code = device_rules.new_code(session, site_context().site, name, kind, room, now(), by=by)
    return make_response(_devices_page({}, code=code, code_name=name))


@bp.post("/devices/<int:device_id>/revoke")
@open_to("manager")
def revoke_device(device_id: int) -> Response:
    """Bar a device from now on, end every sign-in on it, and redirect to the list of devices."""
    revision, by = forms.whole("revision") or 0, require_person().id
    with site_context().store.write() as session:
        device_rules.revoke(session, device_id, revision, now(), by=by)
    return redirect(url_for("staff.devices"))


def _people_page(wrong: Wrong) -> str:
    with site_context().store.read() as session:
        people = staff_list.members(session, site_context().site, now())
        wrong_pins = waits.wrong_pins(session, now())
    return render_template(
        "staff/people.html",
        wrong=wrong,
        people=people,
        role_names=staff_list.ROLE_NAMES,
        wrong_pins=wrong_pins,
    )


@bp.get("/people")
@open_to("manager")
def people() -> str:
    """List who works here and offer to add a person."""
    return _people_page({})


@bp.post("/people")
@open_to("manager")
@refused_by(_people_page)
def new_person() -> Response:
    """Add a person with a PIN, roles and languages."""
    roles, languages = request.form.getlist("role"), request.form.getlist("language")
    site, name, by = site_context().site, forms.text("name"), require_person().id
    pin_hash = hash_pin(forms.text("pin"), site)  # slow on purpose: before the transaction begins
    with site_context().store.write() as session:
        staff_list.add_person(session, site, name, pin_hash, roles, languages, now(), by=by, temporary=True)
    return redirect(url_for("staff.people"))


def _person_page(wrong: Wrong, person_id: int, new_pin: str = "") -> str:
    with site_context().store.read() as session:
        people = staff_list.members(session, site_context().site, now())
        signed = sign_offs.sign_offs_of(session, person_id)
    one = next((member for member in people if member.id == person_id), None)
    if one is None:
        raise NotFound()
    return render_template(
        "staff/person.html",
        wrong=wrong,
        one=one,
        role_names=staff_list.ROLE_NAMES,
        new_pin=new_pin,
        sign_offs=signed,
    )


@bp.get("/people/<int:person_id>")
@open_to("manager")
def person(person_id: int) -> str:
    """Show a person's roles, and what a manager may change."""
    return _person_page({}, person_id)


@bp.post("/people/<int:person_id>")
@open_to("manager")
@refused_by(_person_page)
def change_person(person_id: int) -> Response:
    """Change a person's roles, unlock their sign-in, withdraw a sign-off, or deactivate them."""
    site, by, at, device_id = site_context().site, require_person().id, now(), require_device().id
    with site_context().store.write() as session:
        match forms.text("act"):
            case "lift":
                waits.lift_waits(session, [person_id], at, by=by, device_id=device_id)
            case "withdraw":
                sign_offs.withdraw(session, person_id, forms.text("key"), by=by, device_id=device_id, at=at)
                return redirect(url_for("staff.person", person_id=person_id), 303)
            case "leave":
                staff_list.deactivate(session, site, person_id, at, by=by)
            case _:
                roles = request.form.getlist("role")
                staff_list.change_roles(session, site, person_id, roles, at, by=by)
    return redirect(url_for("staff.people"), 303)


@bp.post("/people/<int:person_id>/pin")
@open_to("manager")
@refused_by(_person_page)
def reset_pin(person_id: int) -> Response:
    """Give a person a temporary PIN, show it once, and end their sign-ins and waits."""
    site, by, at = site_context().site, require_person().id, now()
    pin = staff_list.random_pin()
    pin_hash = hash_pin(pin, site)
    _person_page({}, person_id)  # 404 for a person who does not work here
    with site_context().store.write() as session:
        staff_list.set_pin(session, person_id, pin_hash, at, temporary=True, by=by)
        waits.lift_waits(session, [person_id], at, by=by, device_id=require_device().id)
    return make_response(_person_page({}, person_id, new_pin=pin))


def _permits_page(wrong: Wrong, **_place: object) -> str:
    site, day = site_context().site, site_context().site.service_day(now())
    with site_context().store.read() as session:
        permits = permit_rules.list_permits(session, day)
        people = staff_list.members(session, site, now())
    required = [site.policy.server_permit] if site.policy.server_permit else []
    return render_template(
        "staff/permits.html",
        permits=permits,
        today=day,
        no_end=permit_rules.NO_END,
        lacking=permit_rules.names_lacking_permit(site.policy, people, permits, day),
        soon=[permit for permit in permits if permit.ends_soon(day)],
        people=[(str(member.id), member.name) for member in people],
        kinds=list(dict.fromkeys([*required, *(permit.kind for permit in permits if not permit.age)])),
        typed=request.form,
        wrong=wrong,
    )


@bp.get("/permits")
@open_to("manager")
def permits() -> str:
    """List the permits, those that end soon, and the people who lack one."""
    return _permits_page({})


@bp.post("/permits")
@open_to("manager")
@refused_by(_permits_page)
def add_permit() -> Response:
    """Record a permit that the manager has seen."""
    person_id, kind, number = forms.whole("person") or 0, forms.text("kind", 40), forms.text("number", 60)
    first, last = (formats.parse_day(forms.text(name)) for name in ("valid_from", "valid_until"))
    add = partial(permit_rules.add_permit, staff_id=person_id, kind=kind, number=number, days=(first, last))
    run(site_context().store, partial(add, by=require_person().id, at=now()))
    return redirect(url_for("staff.permits"), 303)


@bp.post("/permits/age")
@open_to("manager")
@refused_by(_permits_page)
def seen_of_age() -> Response:
    """Record that the manager saw proof that a person is of age to serve."""
    person_id, by, site = forms.whole("person") or 0, require_person().id, site_context().site
    record = partial(permit_rules.record_age_proof, site=site, staff_id=person_id, by=by, at=now())
    run(site_context().store, record)
    return redirect(url_for("staff.permits"), 303)


@bp.post("/permits/<int:permit_id>/take-back")
@open_to("manager")
@refused_by(_permits_page)
def revoke_permit(permit_id: int) -> Response:
    """Revoke a permit from today on."""
    revision, why, by = forms.whole("revision") or 0, forms.text("why"), require_person().id
    revoke = partial(permit_rules.revoke_permit, permit_id=permit_id, revision=revision)
    day = site_context().site.service_day(now())
    run(site_context().store, partial(revoke, day=day, by=by, at=now(), why=why))
    return redirect(url_for("staff.permits"), 303)
