"""The form pack: every field has its label, says what is wrong where it is wrong, and loses nothing.

Checked against WCAG 2.2 (1.3.1, 3.3.1, 3.3.2, 4.1.2) as its texts are remembered: labels and errors are tied to the
field in the markup, not by their place on the page.
"""

from html.parser import HTMLParser

import pytest
from crispy_forms.bootstrap import AppendedText, FormActions
from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Layout, Row, Submit
from django import forms

from tests.ui.page import draw

pytestmark = pytest.mark.usefixtures("collected_static")

ANSWERS = [("sound", "Sound"), ("defect", "Defect"), ("cannot_check", "Can't check today")]


class WearForm(forms.Form):
    act = forms.CharField(widget=forms.HiddenInput, initial="a-1")
    gap = forms.CharField(label="Gap", help_text="With the trolley at rest.")
    answer = forms.ChoiceField(label="Hook", choices=ANSWERS, widget=forms.RadioSelect, help_text="Pull it once.")
    days = forms.MultipleChoiceField(
        label="Days", choices=[("mon", "Monday"), ("tue", "Tuesday")], widget=forms.CheckboxSelectMultiple
    )
    note = forms.CharField(label="Note", widget=forms.Textarea, required=False)
    kind = forms.ChoiceField(label="Kind", choices=[("", "Choose"), ("spring", "Spring")])
    photo = forms.FileField(label="Photo", required=False)
    sure = forms.BooleanField(label="I have looked.")

    def clean(self):
        raise forms.ValidationError("The two do not fit.")


class LaidOutForm(WearForm):
    def __init__(self, *arguments, **keywords):
        super().__init__(*arguments, **keywords)
        self.helper = FormHelper()
        self.helper.form_id = "wear"
        self.helper.form_class = "form--narrow"
        self.helper.layout = Layout(
            "act",
            AppendedText("gap", "mm"),
            Field("answer", template="lineworthy/switch.html"),
            Row("note", "kind"),
            Fieldset("Proof", "days", "photo", "sure"),
            FormActions(Submit("sign", "Sign")),
        )


class Marks(HTMLParser):
    """The start tags of a page, and the text inside each label."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.labelled, self._open = [], [], None
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        attributes = dict(attrs)
        self.tags.append((tag, attributes))
        if tag == "label":
            self._open = attributes.get("for", "around")
        if tag == "input" and self._open == "around" and "id" in attributes:
            self.labelled.append(attributes["id"])

    def handle_endtag(self, tag):
        if tag == "label":
            if self._open != "around":
                self.labelled.append(self._open)
            self._open = None

    def controls(self):
        return [a for tag, a in self.tags if tag in ("input", "select", "textarea") and a.get("type") != "hidden"]

    def ids(self):
        return [a["id"] for _, a in self.tags if "id" in a]


def plain(form):
    return draw("{% load crispy_forms_tags %}<form>{{ form|crispy }}</form>", form=form)


def laid_out(form):
    return draw("{% load crispy_forms_tags %}{% crispy form %}", form=form)


BOTH = pytest.mark.parametrize(
    ("render", "kind"), [(plain, WearForm), (laid_out, LaidOutForm)], ids=["plain", "laid out"]
)
SENT = {"act": "a-7", "gap": "3,1", "answer": "defect", "days": ["tue"], "note": 'said "stiff" <b>', "kind": "spring"}


@BOTH
def test_every_control_has_a_label(render, kind):
    marks = Marks(render(kind()))

    assert len(marks.controls()) == 10  # gap, three answers, two days, note, kind, photo, sure
    assert [a["id"] for a in marks.controls() if a["id"] not in marks.labelled] == []


@BOTH
def test_every_id_is_there_once(render, kind):
    ids = Marks(render(kind(SENT))).ids()

    assert len(ids) == len(set(ids))


@BOTH
def test_every_description_exists(render, kind):
    marks = Marks(render(kind({})))
    described = [a["aria-describedby"] for _, a in marks.tags if "aria-describedby" in a]

    assert "id_gap_helptext id_gap_error" in described
    assert "id_answer_helptext id_answer_error" in described
    assert [name for names in described for name in names.split() if name not in marks.ids()] == []


@BOTH
def test_the_summary_leads_to_every_wrong_field(render, kind):
    form = kind({})
    html = render(form)
    marks = Marks(html)
    links = [a["href"][1:] for tag, a in marks.tags if tag == "a"]

    assert links == [
        "id_gap", "div_id_answer", "div_id_days", "id_kind", "id_sure",
    ]  # fmt: skip
    assert [target for target in links if target not in marks.ids()] == []
    assert "The two do not fit." in html
    assert [a["id"] for a in marks.controls() if a.get("aria-invalid") == "true" and a.get("type") != "radio"]


@BOTH
def test_a_refused_form_keeps_what_was_entered(render, kind):
    html = render(kind(SENT))
    marks = Marks(html)
    values = {a.get("name"): a.get("value") for tag, a in marks.tags if tag == "input"}
    chosen = [a["value"] for tag, a in marks.tags if "checked" in a or "selected" in a]

    assert (values["act"], values["gap"]) == ("a-7", "3,1")
    assert chosen == (["defect", "tue", "spring"] if kind is WearForm else ["defect", "spring", "tue"])
    assert "said &quot;stiff&quot; &lt;b&gt;" in html


def test_a_form_with_a_file_is_sent_in_parts():
    attributes = dict(Marks(laid_out(LaidOutForm())).tags[0][1])

    assert attributes["enctype"] == "multipart/form-data"
    assert attributes["id"] == "wear"
    assert attributes["class"] == "form form--narrow"
    assert attributes["method"] == "post"


def test_the_switch_brings_word_shape_and_tone():
    html = laid_out(LaidOutForm())

    for tone, shape, word in [("is-ok", "#ok", "Sound"), ("is-withdraw", "#withdraw", "Defect")]:
        part = html.split(f"switch__part {tone}", 1)[1].split("</label>", 1)[0]
        assert shape in part
        assert word in part
