"""What all forms of the set-up share: units, a source with an optional file, and the look before the deed is done."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import Any

from crispy_forms.bootstrap import AppendedText
from crispy_forms.layout import HTML, Div, Field, Layout
from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.forms import DeedForm
from courses.forms.fields import DayField, FigureField
from engineering.units import BARE, with_unit
from ledger import chain

MOST_BYTES = 10 * 2**20
# The first bytes say what a file is; its name and what the browser calls it say nothing.
SIGNATURES = {b"%PDF-": "application/pdf", b"\xff\xd8\xff": "image/jpeg", b"\x89PNG\r\n\x1a\n": "image/png"}


class SourceFile(forms.FileField):
    """A PDF, JPEG or PNG of at most 10 MB. Cleans to ``(bytes, media type)``, or None without a file."""

    def clean(self, data: Any, initial: Any = None) -> Any:
        found: UploadedFile | None = super().clean(data, initial)
        if not found:
            return None
        if found.size is None or found.size > MOST_BYTES:
            raise ValidationError(_("The file is larger than 10 MB."), code="too-large")
        content = found.read()
        for signature, media_type in SIGNATURES.items():
            if content.startswith(signature):
                return content, media_type
        raise ValidationError(_("Only PDF, JPEG and PNG files are taken."), code="media-type")


class SetupForm(DeedForm):
    """A form in the units of its course, laid out in sections.

    ``asked`` fields may be left empty, but what is then missing holds the line; they are not called optional.
    """

    asked: frozenset[str] = frozenset()

    def __init__(self, *args: Any, units: str = "metric", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields.update(self.more_fields())
        # What is wrong is listed in the order of the page, on which the source stands last.
        self.order_fields([name for name in self.fields if name not in VersionForm.base_fields])
        for name, field in self.fields.items():
            field.is_asked = name in self.asked  # type: ignore[attr-defined]
            if isinstance(field, FigureField):
                field.use_units(units)
        self.helper.form_tag = False
        self.helper.disable_csrf = True
        self.helper.layout = Layout(*self.sections())

    def more_fields(self) -> dict[str, forms.Field]:
        """Return fields that come in rows or depend on the course."""
        return {}

    def sections(self) -> Iterable[Any]:
        """Return the layout, without buttons: they stand in the page, which knows what happens next."""
        return [self.field(name) for name in self.fields]

    def field(self, name: str) -> Any:
        """Return one field with its unit behind it."""
        field = self.fields[name]
        if isinstance(field, FigureField) and field.shown_unit and field.shown_unit not in BARE:
            return AppendedText(name, with_unit("", field.shown_unit).strip())
        return Field(name)

    def section(self, title: str, *rows: Any, lead: str = "") -> Div:
        """Return one section: a heading, then fields; a tuple of names stands side by side."""
        parts: list[Any] = [HTML(format_html("<h2>{}</h2>", title))]
        if lead:
            parts.append(HTML(format_html('<p class="field__help">{}</p>', lead)))
        for row in rows:
            parts.append(self.side_by_side(*row) if isinstance(row, tuple) else self._one(row))
        return Div(*parts, css_class="section form")

    def side_by_side(self, *names: str) -> Div:
        return Div(*(self._one(name) for name in names), css_class="field-row")

    def _one(self, row: Any) -> Any:
        return self.field(row) if isinstance(row, str) else row

    def days_not_after(self, day: Any) -> None:
        """Let no date of this form lie after ``day``."""
        for field in self.fields.values():
            if isinstance(field, DayField):
                field.not_after = day


class VersionForm(SetupForm):
    """A form that proposes a version: first it is looked at, then sent. ``seen`` is the hash of what was looked at."""

    source = forms.CharField(
        label=gettext_lazy("Where this comes from"),
        max_length=300,
        help_text=gettext_lazy("Manual and page, drawing, certificate, letter, calculation."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    source_file = SourceFile(
        label=gettext_lazy("The source itself"),
        required=False,
        help_text=gettext_lazy("PDF, JPEG or PNG, at most 10 MB."),
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png"}),
    )
    stored = forms.CharField(required=False, widget=forms.HiddenInput, max_length=64)
    seen = forms.CharField(required=False, widget=forms.HiddenInput, max_length=64)

    field_of = {"source-needed": "source"}

    def content(self) -> dict[str, Any]:
        """Return the document that was filled in. Only after ``is_valid``."""
        raise NotImplementedError

    def sections(self) -> Iterable[Any]:
        return [*self.body(), self.source_section()]

    def body(self) -> Iterable[Any]:
        """Return the sections about the thing itself."""
        own = [name for name in self.fields if name not in VersionForm.base_fields]
        return [Div(*(self.field(name) for name in own), css_class="form")]

    def source_section(self) -> Div:
        hidden = [Field("deed_id"), Field("stored"), Field("seen")]
        return self.section(_("Source"), "source", "source_file", *hidden)

    def remember(self, *, seen: str, stored: str) -> None:
        """Keep in the form what was looked at and which file came with it, so that the next sending needs neither."""
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["seen"], data["stored"] = seen, stored
        self.data = data


def digest_of(content: Mapping[str, Any]) -> str:
    """Return the hash by which a document is recognised when it comes back."""
    return sha256(chain.canonical(chain.normal(content))).hexdigest()


def without_empty(values: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value not in ("", None, {}, [])}
