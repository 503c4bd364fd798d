"""Pages that stand when nothing else does: refusals, faults, and the way in."""

import pytest
from django.template.loader import get_template
from django.urls import reverse

pytestmark = pytest.mark.usefixtures("collected_static")


@pytest.mark.parametrize("name", ["400", "403", "404", "500"])
def test_a_refusal_can_be_drawn_without_any_context(name):
    html = get_template(f"{name}.html").render()

    assert html.count("<h1>") == 1
    assert 'href="/"' in html
    assert "style=" not in html


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("address", "button"),
    [
        ("account_login", "Log in"),
        ("account_reset_password", "Send the link"),
        ("account_reset_password_done", "Back to the log-in"),
    ],
)
def test_the_way_in_is_drawn_in_our_look(client, address, button):
    html = client.get(reverse(address)).content.decode()

    assert html.count("<h1>") == 1
    assert 'class="top"' in html
    assert button in html


@pytest.mark.django_db
def test_a_wrong_password_is_said_and_the_address_kept(client):
    sent = {"login": "l.brunner@course.example", "password": "not this one"}

    html = client.post(reverse("account_login"), sent).content.decode()

    assert "error-summary" in html
    assert 'value="l.brunner@course.example"' in html
    assert "not this one" not in html
