"""Forms beside the board."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.asking import Area
from inspection.compute.night import Ruling
from inspection.models import Block, Edition, RaceClass, RaceNight
from inventory.forms.base import PageForm
from inventory.words.enumerations import word_choices


class OnTheBlockForm(PageForm):
    """Which block, and what was changed since the car was last measured."""

    block = forms.ModelChoiceField(
        Block.objects.filter(is_in_use=True).order_by("name"),
        label=_("Block"),
        required=False,
        empty_label=_("no block named"),
    )
    paper_at = forms.DateTimeField(
        label=_("From paper: measured at"),
        required=False,
        widget=forms.DateTimeInput(
            attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"
        ),
        help_text=_("Only where a sheet of paper is typed in; the record says so."),
    )
    changed = forms.MultipleChoiceField(
        label=_("Changed or adjusted since it was last measured"),
        choices=word_choices(Area),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_(
            "What is ticked is measured again; the rest stands, but for what is "
            "checked anew after the race."
        ),
    )

    def __init__(self, data: Any = None, *, block_id: int | None) -> None:
        super().__init__(data, initial={"block": block_id})

    @property
    def areas(self) -> frozenset[Area]:
        return frozenset(Area(word) for word in self.cleaned_data.get("changed", ()))


class ReasonForm(PageForm):
    """A reason that goes into the record."""

    reason = forms.CharField(label=_("Reason"), max_length=200)


class ReopenForm(ReasonForm):
    """Why a passed car comes back, and what of its last sheet stands."""

    stands = forms.MultipleChoiceField(
        label=_("Stands as it was read"),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("What is ticked carries over; the rest is measured again."),
    )

    def __init__(self, data: Any = None, *, read: list[tuple[str, str]]) -> None:
        super().__init__(data)
        if read:
            self.fields["stands"].choices = read  # type: ignore[attr-defined]
        else:
            del self.fields["stands"]


class RulingForm(ReasonForm):
    """What the chief rules of a sealed sheet in question, and why."""

    ruling = forms.ChoiceField(
        label=_("Ruling"),
        choices=[
            (Ruling.STANDS.value, _("It stands")),
            (Ruling.VOID.value, _("It is void: everything is measured anew")),
            (Ruling.AGAIN.value, _("Measure again what is in question")),
        ],
        widget=forms.RadioSelect,
    )
    field_order = ("ruling", "reason")


class MoveEditionForm(ReasonForm):
    """Another edition for a class of the night, and why."""

    race_class = forms.ModelChoiceField(RaceClass.objects.none(), label=_("Class"))
    edition = forms.ModelChoiceField(
        Edition.objects.none(),
        label=_("Edition from now on"),
        help_text=_(
            "Open sheets keep theirs; sealed ones are judged again, and each that "
            "would change comes to the chief."
        ),
    )
    field_order = ("race_class", "edition", "reason")

    def __init__(self, data: Any = None, *, night: RaceNight) -> None:
        super().__init__(data)
        classes = RaceClass.objects.filter(pk__in=night.classes.values("race_class"))
        published = Edition.objects.published().select_related("rulebook")
        books = published.filter(rulebook__in=classes.values("rulebook"))
        self.fields["race_class"].queryset = classes  # type: ignore[attr-defined]
        self.fields["edition"].queryset = books  # type: ignore[attr-defined]
