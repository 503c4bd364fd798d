"""What is typed about people. Forms check shape; what may be done is asked by the actions."""

from __future__ import annotations

import uuid
from typing import Any

from crispy_forms.bootstrap import FormActions
from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, Layout, Submit
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.errors import Refused
from accounts.models import Authorisation, Role
from accounts.proof import DEED_ID

# What each role is there for, beside its name where one chooses.
ROLE_HELP = {
    Role.Kind.GUIDE: gettext_lazy("sees the line status, calls a hold, reports"),
    Role.Kind.TECHNICIAN: gettext_lazy("inspects, takes out of service, repairs"),
    Role.Kind.MANAGER: gettext_lazy("signs the day, releases, looks after people"),
    Role.Kind.ENGINEER: gettext_lazy("inspects, sets limits, rules on findings"),
    Role.Kind.AUDITOR: gettext_lazy("reads the history, nothing else"),
}


def _role_choices() -> list[tuple[str, str]]:
    return [(kind.value, f"{kind.label}: {ROLE_HELP[kind]}") for kind in Role.Kind]


class DeedForm(forms.Form):
    """A form that does one deed, once: its identity is made when the form is first shown and travels in it.

    ``field_of`` says beside which field a refusal with a certain code stands; others stand above the form.
    """

    deed_id = forms.UUIDField(widget=forms.HiddenInput, required=False)

    submit = gettext_lazy("Save")
    submit_class = "button--primary"
    leave = gettext_lazy("Cancel")
    field_of: dict[str, str] = {}

    def __init__(self, *args: Any, back: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields[DEED_ID].initial = uuid.uuid4
        self.helper = FormHelper()
        actions = [Submit("send", self.submit, css_class=self.submit_class)]
        if back:
            actions.append(HTML(format_html('<a class="button button--plain" href="{}">{}</a>', back, self.leave)))
        self.helper.layout = Layout(*self.fields, FormActions(*actions))

    def refuse(self, refused: Refused) -> None:
        """Say why the deed was not done, beside the field it is about."""
        self.add_error(self.field_of.get(refused.code), refused.sentence)


class PasswordDeedForm(DeedForm):
    """A deed that is signed with the password in the same request."""

    password = forms.CharField(
        label=gettext_lazy("Your password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    field_of = {"wrong-password": "password", "too-many-tries": "password"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = _("What gives somebody a right is signed with it.")


class InviteForm(PasswordDeedForm):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    email = forms.EmailField(label=gettext_lazy("E-mail address"), max_length=254)
    roles = forms.MultipleChoiceField(label=gettext_lazy("Roles"), widget=forms.CheckboxSelectMultiple)

    field_order = ("name", "email", "roles", "password")
    submit = gettext_lazy("Invite")
    field_of = {
        **PasswordDeedForm.field_of, "auditor-independent": "roles", "here-already": "email", "inactive": "email",
        "own-roles": "email",
    }  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["roles"].choices = _role_choices()  # type: ignore[attr-defined]


class GiveRoleForm(PasswordDeedForm):
    kind = forms.ChoiceField(label=gettext_lazy("Role"), widget=forms.RadioSelect)
    last_day = forms.DateField(
        label=gettext_lazy("Last day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("Only if the role ends by itself, as an acting manager's does."),
    )

    field_order = ("kind", "last_day", "password")
    submit = gettext_lazy("Give the role")
    field_of = {
        **PasswordDeedForm.field_of, "role-held": "kind", "auditor-independent": "kind", "end-in-the-past": "last_day",
    }  # fmt: skip

    def __init__(self, *args: Any, held: frozenset[str] = frozenset(), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [choice for choice in _role_choices() if choice[0] not in held]
        self.fields["kind"].choices = choices  # type: ignore[attr-defined]


class AuthoriseForm(PasswordDeedForm):
    subject = forms.ChoiceField(label=gettext_lazy("May inspect"), widget=forms.RadioSelect)
    last_day = forms.DateField(
        label=gettext_lazy("Last day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    field_order = ("subject", "last_day", "password")
    submit = gettext_lazy("Authorise")
    field_of = {**PasswordDeedForm.field_of, "end-in-the-past": "last_day"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["subject"].choices = Authorisation.Subject.choices  # type: ignore[attr-defined]


END_WHY = {
    "changed": gettext_lazy("another device is used now"),
    "lost": gettext_lazy("the device is lost or broken"),
    "suspect": gettext_lazy("somebody else may have used it"),
}


class TakeRoleForm(DeedForm):
    submit = gettext_lazy("Take the role away")
    submit_class = "button--danger button--solid"
    leave = gettext_lazy("Leave the role")


class EndAuthorisationForm(DeedForm):
    submit = gettext_lazy("End the authorisation")
    submit_class = "button--danger button--solid"
    leave = gettext_lazy("Leave it")


class SendInvitationForm(DeedForm):
    submit = gettext_lazy("Send the mail again")


class EnrolKeyForm(PasswordDeedForm):
    """A new key of this device: its public half and its own signature come from the script of the page."""

    public = forms.CharField(widget=forms.HiddenInput, max_length=100, required=False)
    proof = forms.CharField(widget=forms.HiddenInput, max_length=100, required=False)
    submit = gettext_lazy("Make a key on this device")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = _("So that a phone left lying about gets no key in your name.")


class EndKeyForm(DeedForm):
    why = forms.ChoiceField(label=gettext_lazy("Why"), widget=forms.RadioSelect)
    submit = gettext_lazy("End this key")
    submit_class = "button--danger button--solid"
    leave = gettext_lazy("Leave it")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["why"].choices = END_WHY.items()  # type: ignore[attr-defined]
