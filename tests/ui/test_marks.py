"""The remembered mark is the partial, drawn; in every language its own."""

import pytest
from django.template import Context, Template
from django.utils import translation

pytestmark = pytest.mark.usefixtures("collected_static")


@pytest.mark.parametrize(("state", "word"), [("ok", ""), ("held", ""), ("unknown", "Not ridden <yet>")])
def test_a_remembered_mark_is_the_partial(state: str, word: str) -> None:
    about = Context({"state": state, "word": word})
    partial = Template('{% include "ui/_mark.html" with state=state word=word only %}').render(about)
    tag = Template("{% load marks %}{% mark state word %}")

    assert tag.render(about) == tag.render(about) == partial.strip()


def test_another_language_is_not_served_what_was_remembered() -> None:
    tag = Template('{% load marks %}{% mark "ok" %}')
    with translation.override("en"):
        english = tag.render(Context())
    with translation.override("de"):
        partial = Template('{% include "ui/_mark.html" with state="ok" only %}').render(Context())
        assert tag.render(Context()) == partial.strip()
    assert ">OK<" in english
