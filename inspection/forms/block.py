"""The reading form on the block, and striking one."""

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

from django import forms
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext_lazy as _

from inspection.actions.readings import TypedReading
from inspection.compute.quantities import UnknownColumnError
from inspection.compute.rulebooks import Answer
from inspection.words.quantities import column_name
from inventory.actions.people.sign_in import CODE_DIGITS
from inventory.compute.roles import Ability
from inventory.forms.base import PageForm
from inventory.loaders.people import people_who_may
from inventory.models import Person
from inventory.words.enumerations import word_choices


def _named(column: str) -> str:
    try:
        return column_name(column)
    except UnknownColumnError:
        return f"“{column}”"


def _answer_elsewhere(column: str, seen: str) -> forms.ValidationError:
    return forms.ValidationError(
        _(
            "%(column)s is not taken: the answer was given while the page showed"
            " %(seen)s. Answer it again."
        ),
        code="answer_elsewhere",
        params={"column": column, "seen": seen},
    )


def moment(text: str) -> dt.datetime | None:
    """Give the moment that a device's clock said, if it is one and names its zone."""
    try:
        parsed = parse_datetime(text)
        # Near the years 1 and 9999 some zone has no such time.
        return parsed.astimezone(dt.UTC) if parsed and parsed.tzinfo else None
    except (ValueError, OverflowError):
        return None


#: What of a reading stands on the page before it is taken.
TYPED: Final = ("column", "text", "high_text", "gauge")


class ReadingForm(PageForm):
    """One reading as typed; its number is read by the action, not by the form."""

    reading_id = forms.UUIDField(widget=forms.HiddenInput)
    column = forms.CharField(max_length=44, widget=forms.HiddenInput)
    text = forms.CharField(
        max_length=200, required=False, strip=False, label=_("Reading")
    )
    high_text = forms.CharField(
        max_length=200, required=False, strip=False, label=_("Slip that stops")
    )
    answer = forms.ChoiceField(choices=word_choices(Answer), required=False)
    gauge = forms.IntegerField(required=False, label=_("Gauge"))
    taken_at = forms.CharField(required=False, max_length=200)
    confirmed = forms.BooleanField(required=False)
    #: Who was at the device when it was typed; a queue outlives a change of hands.
    typed_by = forms.IntegerField(required=False, widget=forms.HiddenInput)
    #: The step that was on the screen when the answer was pressed.
    shown = forms.CharField(max_length=44, required=False, widget=forms.HiddenInput)
    #: The limit slip, which an answer without a typed slip is about.
    limit = forms.CharField(max_length=40, required=False)

    def __init__(
        self, data: Any = None, *, by: Person | None = None, **options: Any
    ) -> None:
        super().__init__(data, **options)
        self.by = by

    def clean_typed_by(self) -> int | None:
        """Refuse what somebody else typed at this device: it is theirs to send."""
        person_id: int | None = self.cleaned_data["typed_by"]
        if person_id is not None and self.by is not None and person_id != self.by.pk:
            raise forms.ValidationError(
                _(
                    "Not taken: somebody else typed it at this device, and %(here)s is"
                    " signed in here now. It waits until they are again."
                ),
                code="typed_by_other",
                params={"here": self.by},
            )
        return person_id

    def clean(self) -> None:
        """Refuse an answer that was given to another step than the one it names."""
        cleaned = self.cleaned_data
        column, shown = cleaned.get("column", ""), cleaned.get("shown", "")
        if cleaned.get("answer") and column and shown != column:
            seen = _named(shown) if shown else str(_("no step"))
            self.add_error("answer", _answer_elsewhere(_named(column), seen))

    def typed(self) -> TypedReading:
        cleaned = self.cleaned_data
        taken_at = moment(cleaned["taken_at"])
        return TypedReading(
            reading_id=cleaned["reading_id"],
            column=cleaned["column"],
            text=cleaned["text"] or (cleaned["limit"] if cleaned["answer"] else ""),
            high_text=cleaned["high_text"],
            answer=Answer(cleaned["answer"]) if cleaned["answer"] else None,
            gauge_mode_id=cleaned["gauge"],
            taken_at=taken_at,
            clock_said="" if taken_at else cleaned["taken_at"],
            is_confirmed=cleaned["confirmed"],
        )

    @classmethod
    def blank(cls, prefilled: Mapping[str, str]) -> "ReadingForm":
        """Give a form for a new reading of a column, with what was typed before."""
        return cls(initial={key: prefilled.get(key, "")[:200] for key in TYPED})


class TakeOverForm(PageForm):
    """Who goes on at this device, and how they prove who they are."""

    who = forms.ModelChoiceField(
        queryset=Person.objects.none(),
        label=_("Who goes on here"),
        empty_label=_("choose"),
        error_messages={
            "required": _("Choose who goes on here."),
            "invalid_choice": _("That is nobody who inspects cars."),
        },
    )
    secret = forms.CharField(
        label=_("Their password, or the code from their phone"),
        max_length=200,
        strip=False,
        error_messages={"required": _("Type the password or the code.")},
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, data: Any = None, *, here: Person) -> None:
        super().__init__(data, auto_id="take_over_%s")
        self.here = here
        able = people_who_may(Ability.INSPECT_CARS)
        self.fields["who"].queryset = able  # type: ignore[attr-defined]

    def clean_who(self) -> Person:
        # Offered all the same: once hands have changed, the page is not sent again.
        who: Person = self.cleaned_data["who"]
        if who == self.here:
            raise forms.ValidationError(
                _("%(who)s is signed in here already."),
                code="signed_in_already",
                params={"who": who},
            )
        return who

    @property
    def is_by_password(self) -> bool:
        """Whether a password was typed: none is as short as a code."""
        secret = self.cleaned_data["secret"].strip()
        return len(secret) != CODE_DIGITS or not secret.isdecimal()

    def credentials(self) -> dict[str, str]:
        """Say who it is to be, and by what."""
        secret = self.cleaned_data["secret"]
        name = {"username": self.cleaned_data["who"].sign_in_name}
        if self.is_by_password:
            return name | {"password": secret}
        return name | {"secret_code": secret.strip()}


class StrikeForm(PageForm):
    """Why a reading is struck."""

    reason = forms.CharField(
        max_length=200,
        label=_("Reason"),
        error_messages={"required": _("Say why the reading is struck.")},
    )

    def clean_reason(self) -> str:
        reason: str = self.cleaned_data["reason"]
        if not any(letter.isalpha() for letter in reason):
            # A caliper that typed into the wrong field has given no reason.
            raise forms.ValidationError(
                _("“%(typed)s” is no reason; say it in words."),
                code="reason_without_words",
                params={"typed": reason},
            )
        return reason
