"""A form that comes back after its log-in ran out loses nothing, and shows nothing to anybody else."""

import re
from typing import Any

import pytest
from django import forms
from django.contrib.messages import get_messages
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.module_loading import autodiscover_modules

from accounts import keep
from accounts.models import Operator, User
from ledger.models import Entry
from tests import make

TYPED = {"name": "Ole Birk", "email": "ole@example.org", "roles": ["guide", "technician"], "password": make.WORD}


class Phone(Client):
    """A browser that insists on tokens and sends what a page's form has hidden in it."""

    def __init__(self) -> None:
        super().__init__(enforce_csrf_checks=True)

    def hidden(self, path: str) -> dict[str, str]:
        html = self.get(path).content.decode()
        fields = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', html))
        assert "csrfmiddlewaretoken" in fields, html
        return fields

    def log_in(self, user: User, path: str = "/account/login/") -> Any:
        data = {"login": user.email, "password": make.WORD, **self.hidden(path)}
        return self.post("/account/login/", data)

    def log_out(self) -> None:
        self.post("/account/logout/", self.hidden("/account/logout/"))


@pytest.fixture
def manager(staff: dict[str, User]) -> User:
    return staff["manager"]


@pytest.fixture
def other(operator: Operator) -> User:
    return make.person(operator, "manager", name="Ivo Nord")


@pytest.fixture
def page(operator: Operator) -> str:
    return reverse("accounts:invite", args=[operator.pk])


@pytest.fixture
def phone(manager: User, clock: Any) -> Phone:
    phone = Phone()
    phone.log_in(manager)
    return phone


def filled(html: str) -> dict[str, Any]:
    """Return what stands in the form of the page."""
    values = {}
    for tag in re.findall(r"<input\b[^>]*>", html):
        name = re.search(r'name="([^"]+)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name is None or name[1] not in {*TYPED, "deed_id"}:
            continue
        if 'type="checkbox"' in tag:
            if "checked" in tag:
                values.setdefault(name[1], []).append(value[1] if value else "")
        else:
            values[name[1]] = value[1] if value else ""
    return values


def test_after_the_log_in_ran_out_the_form_comes_back(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()

    sent = phone.post(page, form)

    assert (sent.status_code, sent["Location"]) == (302, f"/account/login/?next={page}")
    assert "Nothing is lost" in phone.get(sent["Location"]).content.decode()
    assert not User.objects.filter(email="ole@example.org").exists()
    back = phone.log_in(manager, sent["Location"])
    assert back["Location"] == page
    shown = phone.get(page)
    assert filled(shown.content.decode()) == {
        "name": "Ole Birk", "email": "ole@example.org", "roles": ["guide", "technician"], "password": "",
        "deed_id": form["deed_id"],
    }  # fmt: skip
    assert "This was not saved yet" in shown.content.decode()
    assert "no-store" in shown["Cache-Control"]


def test_the_form_stays_filled_until_it_is_taken(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()
    phone.post(page, form)
    phone.log_in(manager)
    phone.get(page)  # the answer to this one did not arrive, say

    again = {**phone.hidden(page), **TYPED}
    assert filled(phone.get(page).content.decode())["name"] == "Ole Birk"
    assert phone.post(page, again).status_code == 302

    assert User.objects.get(email="ole@example.org").name == "Ole Birk"
    assert filled(phone.get(page).content.decode())["name"] == ""


def test_a_script_that_sends_a_part_of_the_form_does_not_take_the_rest_away(
    phone: Phone, manager: User, page: str
) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()
    phone.post(page, form)
    phone.log_in(manager)

    part = phone.post(page, phone.hidden(page), headers={"accept": "application/json"})

    assert part.status_code == 200
    assert filled(phone.get(page).content.decode())["name"] == "Ole Birk"


def test_a_token_made_stale_by_a_newer_log_in_of_the_same_person(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    phone.log_out()
    phone.log_in(manager)

    sent = phone.post(page, form)

    assert (sent.status_code, sent["Location"]) == (302, page)
    assert filled(phone.get(page).content.decode())["email"] == "ole@example.org"
    assert not User.objects.filter(email="ole@example.org").exists()


def test_a_cookie_that_was_cleared(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    phone.cookies.clear()

    sent = phone.post(page, form)

    assert sent["Location"] == f"/account/login/?next={page}"
    phone.log_in(manager, sent["Location"])
    assert filled(phone.get(page).content.decode())["name"] == "Ole Birk"


def test_another_person_sees_nothing_and_takes_nothing_away(
    phone: Phone, manager: User, other: User, page: str
) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()
    phone.post(page, form)

    phone.log_in(other)
    seen = phone.get(page).content.decode()

    assert filled(seen)["name"] == filled(seen)["email"] == ""
    assert "This was not saved yet" not in seen
    phone.log_out()
    phone.log_in(manager)
    assert filled(phone.get(page).content.decode())["name"] == "Ole Birk"


def test_a_page_of_one_person_sent_under_the_log_in_of_another(
    phone: Phone, manager: User, other: User, page: str
) -> None:
    form = {**phone.hidden(page), **TYPED}
    phone.log_out()
    phone.log_in(other)
    entries = Entry.objects.count()

    stale = phone.post(page, form)
    fresh = phone.post(page, {**form, "csrfmiddlewaretoken": phone.hidden(page)["csrfmiddlewaretoken"]})

    assert stale.status_code == fresh.status_code == 409
    assert "opened by somebody else" in stale.content.decode()
    assert Entry.objects.count() == entries
    phone.log_out()
    phone.log_in(manager)
    assert filled(phone.get(page).content.decode())["name"] == "Ole Birk"


def test_the_way_there_is_found_when_the_log_in_lost_it(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()
    phone.post(page, form)

    assert phone.log_in(manager)["Location"] == page


def test_secrets_and_marks_are_not_kept(phone: Phone, page: str) -> None:
    form = {**phone.hidden(page), **TYPED, "new_password2": "x", "pin": "1234", "spin": "kept"}
    Session.objects.all().delete()

    phone.post(page, form)

    [token] = phone.cookies[keep.COOKIE].value.split(".")
    value = cache.get(f"kept:{token}")
    assert make.WORD.replace(" ", "+") not in str(value)
    fields = keep.QueryDict(value["fields"])
    assert set(fields) == {"deed_id", "name", "email", "roles", "spin"}
    assert fields.getlist("roles") == ["guide", "technician"]


def test_files_are_not_kept_and_that_is_said(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED, "photo": SimpleUploadedFile("brake.jpg", b"x")}
    Session.objects.all().delete()

    phone.post(page, form)
    phone.log_in(manager)

    assert "Photos and other files have to be chosen again." in phone.get(page).content.decode()


def test_after_twelve_hours_it_is_gone(phone: Phone, manager: User, page: str, clock: Any) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()
    phone.post(page, form)

    clock.shift(12 * 3600 + 1)
    phone.log_in(manager)

    assert filled(phone.get(page).content.decode())["name"] == ""


def test_a_forged_mark_is_no_mark(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED, "_who": f"{manager.ref}:made-up"}
    Session.objects.all().delete()

    sent = phone.post(page, form)

    assert sent["Location"] == f"/account/login/?next={page}"
    assert keep.COOKIE not in sent.cookies
    assert "try once more" in phone.get(sent["Location"]).content.decode()


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org/", "javascript:alert(1)"])
def test_the_way_back_never_leads_elsewhere(phone: Phone, page: str, elsewhere: str) -> None:
    form = {**phone.hidden(page), **TYPED, "_page": elsewhere}
    Session.objects.all().delete()

    assert phone.post(page, form)["Location"] == f"/account/login/?next={page}"


def test_a_strange_cookie_is_passed_over(phone: Phone, page: str) -> None:
    phone.cookies[keep.COOKIE] = "..;' OR 1=1." + "x" * 5000

    assert phone.get(page).status_code == 200


def test_six_forms_are_kept_for_one_browser(phone: Phone, manager: User, operator: Operator, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    Session.objects.all().delete()
    for number in range(8):
        phone.post(page, {**form, "name": f"Number {number}"})

    assert len(phone.cookies[keep.COOKIE].value.split(".")) == 6
    phone.log_in(manager)
    assert filled(phone.get(page).content.decode())["name"] == "Number 7"


# --- scripts


@pytest.mark.parametrize(
    "how", [{"headers": {"accept": "application/json"}}, {"content_type": "application/json"}], ids=["accept", "type"]
)
def test_a_script_is_told_where_to_log_in(db: None, page: str, how: dict[str, Any]) -> None:
    response = Client().post(page, {}, **how)

    assert response.status_code == 401
    assert response.json() == {"login": f"/account/login/?next={page}"}


def test_a_script_with_a_stale_token_is_told_too(phone: Phone, manager: User, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}
    phone.log_out()
    phone.log_in(manager)

    response = phone.post(page, form, headers={"accept": "application/json"})

    assert response.status_code == 401
    assert response.json() == {"login": f"/account/login/?next={page}"}


def test_a_script_of_one_person_under_the_log_in_of_another(phone: Phone, other: User, page: str) -> None:
    mark = phone.hidden(page)["_who"]
    phone.log_out()
    phone.log_in(other)
    token = phone.hidden(page)["csrfmiddlewaretoken"]

    response = phone.post(
        page,
        TYPED,
        headers={"accept": "application/json", "x-csrftoken": token, "x-lineworthy-who": mark},
    )

    assert response.status_code == 401
    assert not User.objects.filter(email="ole@example.org").exists()


# --- posts that are kept from nobody


def test_a_log_in_page_that_was_open_too_long_is_opened_anew(phone: Phone, manager: User) -> None:
    phone.log_out()
    old = phone.hidden("/account/login/?next=/x/")
    phone.log_in(manager)
    phone.log_out()

    sent = phone.post("/account/login/", {"login": manager.email, "password": make.WORD, **old})

    assert (sent.status_code, sent["Location"]) == (302, "/account/login/")
    assert "open for too long" in [str(message) for message in get_messages(sent.wsgi_request)][-1]


def test_a_browser_without_cookies_is_told(db: None) -> None:
    sent = Client(enforce_csrf_checks=True).post("/account/login/", {"login": "x@example.org", "password": "x"})

    assert sent.status_code == 403
    assert "This browser sent no cookie." in sent.content.decode()


def test_a_form_from_another_site_is_neither_done_nor_kept(phone: Phone, page: str) -> None:
    form = {**phone.hidden(page), **TYPED}

    sent = phone.post(page, form, headers={"origin": "https://example.org"})

    assert sent.status_code == 403
    assert "sent from another site" in sent.content.decode()
    assert keep.COOKIE not in sent.cookies


# --- forms


def test_every_password_field_has_a_name_that_is_not_kept() -> None:
    autodiscover_modules("forms")
    found = [
        name
        for form in _all_forms(forms.BaseForm)
        for name, field in getattr(form, "base_fields", {}).items()
        if isinstance(field.widget, forms.PasswordInput)
    ]

    assert "password" in found
    assert [name for name in found if not keep._SECRET.search(name)] == []


def _all_forms(form: type) -> list[type]:
    return [form, *(deeper for child in form.__subclasses__() for deeper in _all_forms(child))]


def test_a_form_that_is_posted_elsewhere_is_filled_only_there() -> None:
    class Note(forms.Form):
        text = forms.CharField()
        sure = forms.BooleanField(required=False)
        photo = forms.FileField(required=False)

    class Request:
        path = "/page/"
        kept = keep.Kept("p-1", "/elsewhere/", "/page/", keep.QueryDict("text=frayed&sure=on"), False)

    assert keep.fill(Note(), Request()).initial == {}
    assert keep.fill(Note(), Request(), action="/elsewhere/").initial == {"text": "frayed", "sure": True}
    bound = Note({"text": "other"})
    assert keep.fill(bound, Request(), action="/elsewhere/").initial == {}
