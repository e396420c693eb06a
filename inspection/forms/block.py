"""The reading form on the block, and striking one."""

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.actions.readings import TypedReading
from inspection.compute.requirements import Answer
from inventory.forms.base import PageForm


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
    answer = forms.ChoiceField(
        choices=[(word.value, word.value) for word in Answer], required=False
    )
    gauge = forms.IntegerField(required=False, label=_("Gauge"))
    taken_at = forms.DateTimeField(required=False)
    confirmed = forms.BooleanField(required=False)
    #: The limit slip, which an answer without a typed slip is about.
    limit = forms.CharField(max_length=40, required=False)

    def typed(self) -> TypedReading:
        said = self.cleaned_data
        return TypedReading(
            reading_id=said["reading_id"],
            column=said["column"],
            text=said["text"] or (said["limit"] if said["answer"] else ""),
            high_text=said["high_text"],
            answer=Answer(said["answer"]) if said["answer"] else None,
            gauge_mode_id=said["gauge"],
            taken_at=said["taken_at"],
            is_confirmed=said["confirmed"],
        )

    @classmethod
    def blank(cls, column: str) -> "ReadingForm":
        """Give a form for a new reading of a column."""
        return cls(initial={"column": column})


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
