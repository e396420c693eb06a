"""Forms of the rulebooks: an edition, its rules, import, publishing."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.actions.drafts import EditionFacts
from inspection.compute.judging import DecisionRule
from inspection.compute.quantities import (
    BODY,
    DRIVE,
    LOOKED,
    QUANTITIES,
    STANDING,
    WHEELS,
    Kind,
    Quantity,
)
from inspection.compute.rulebooks import Answer, Evidence, Force, RuleText, Stage
from inspection.files.rulebooks import LONGEST
from inspection.models import RaceClass, RaceNight, Rulebook
from inspection.words.quantities import quantity_name
from inventory.compute.numbers import NumberError, Unit, parse_reading
from inventory.forms.base import PageForm
from inventory.forms.seen import SeenForm
from inventory.words.enumerations import word_choices, word_of
from inventory.words.numbers import error_words

NUMBER: Final = {
    "inputmode": "decimal",
    "class": "number-input short",
    "autocomplete": "off",
}
LIMITS: Final = ("lower", "upper", "lower_after", "upper_after")
GROUPS: Final = (
    (_("How it stands"), STANDING),
    (_("Axles, wheels, tyres"), WHEELS),
    (_("Body and chassis"), BODY),
    (_("Motor and gears"), DRIVE),
    (_("Looked at"), LOOKED),
)


def number_text(millionths: int | None) -> str:
    """Write a number into a field with every digit it has."""
    if millionths is None:
        return ""
    return f"{Decimal(millionths).scaleb(-6).normalize():f}"


def read_number(text: str, unit: Unit) -> int:
    """Read a typed number in millionths; ValidationError says what was expected."""
    try:
        return parse_reading(text, unit=unit).millionths
    except NumberError as error:
        raise forms.ValidationError(error_words(error), code=error.code) from error


class EditionForm(SeenForm):
    """What an edition says besides its rules."""

    decision_rule = forms.ChoiceField(
        label=_("Decision rule"),
        choices=word_choices(DecisionRule),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose one: there is no silent default.")},
    )
    confidence = forms.CharField(
        label=_("Confidence"),
        max_length=20,
        initial="95",
        widget=forms.TextInput(attrs=NUMBER),
        help_text=_("Of the guard band, one-sided: above 50 and below 100."),
    )
    note = forms.CharField(
        label=_("Note"),
        max_length=LONGEST["note"],
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("Read with the rules, and part of the file."),
    )

    def clean_confidence(self) -> Decimal:
        percent = read_number(self.cleaned_data["confidence"], Unit.ONE)
        if percent % 10_000 or not 50_000_000 < percent < 100_000_000:
            raise forms.ValidationError(
                _(
                    "“%(typed)s”: above 50 and below 100 is expected, with two places "
                    "at most."
                ),
                code="confidence_out_of_range",
                params={"typed": self.cleaned_data["confidence"]},
            )
        return Decimal(percent).scaleb(-8)

    def clean_note(self) -> str:
        # A browser sends the ends of lines as two signs, a file has one.
        note: str = self.cleaned_data["note"]
        return note.replace("\r\n", "\n")

    def facts(self) -> EditionFacts:
        return EditionFacts(
            decision_rule=DecisionRule(self.cleaned_data["decision_rule"]),
            confidence=self.cleaned_data["confidence"],
            note=self.cleaned_data["note"],
        )


class NewRulebookForm(EditionForm):
    """A rulebook that begins with an edition without rules."""

    name = forms.CharField(label=_("Name"), max_length=LONGEST["rulebook"])
    field_order = ("name",)

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if Rulebook.objects.filter(name=name).exists():
            raise forms.ValidationError(
                _("A rulebook is already called “%(name)s”."),
                code="name_taken",
                params={"name": name},
            )
        return name


class ClassForm(PageForm):
    """A class that races by a rulebook."""

    name = forms.CharField(label=_("Class"), max_length=LONGEST["class"])


class RuleForm(PageForm):
    """One rule; its limits are typed in the quantity's unit, or with a mark."""

    number = forms.CharField(
        label=_("Number"),
        max_length=LONGEST["number"],
        widget=forms.TextInput(attrs={"class": "short", "autocomplete": "off"}),
    )
    quantity = forms.ChoiceField(label=_("Quantity"))
    sentence = forms.CharField(
        label=_("Sentence"),
        max_length=LONGEST["sentence"],
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("The rule as an owner reads it."),
    )
    lower = forms.CharField(label=_("Lower limit"), required=False)
    upper = forms.CharField(label=_("Upper limit"), required=False)
    lower_after = forms.CharField(label=_("Lower, after the race"), required=False)
    upper_after = forms.CharField(label=_("Upper, after the race"), required=False)
    required = forms.ChoiceField(
        label=_("Must be"),
        choices=[("", _("– (it has limits)")), *word_choices(Answer)],
        required=False,
        help_text=_("Of a looked-at quantity only."),
    )
    force = forms.ChoiceField(
        label=_("Force"), choices=word_choices(Force), initial=Force.MANDATORY
    )
    stage = forms.ChoiceField(
        label=_("Asked, about the race"),
        choices=[
            (Stage.BOTH.value, _("before and after")),
            (Stage.BEFORE.value, _("before only")),
            (Stage.AFTER.value, _("after only")),
        ],
        initial=Stage.BOTH,
    )
    evidence = forms.ChoiceField(
        label=_("Evidence"),
        choices=[
            (Evidence.EITHER.value, _("taken or derived")),
            (Evidence.TAKEN_ONLY.value, _("taken only")),
            (Evidence.AT_ONCE.value, _("looked at, answered with the others")),
        ],
        initial=Evidence.EITHER,
    )
    classes = forms.MultipleChoiceField(
        label=_("Classes"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None ticked: it speaks of all."),
    )
    condition = forms.ChoiceField(label=_("Only for"), required=False)
    seen = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)

    def __init__(
        self, data: Any = None, *, rulebook: Rulebook, rule: RuleText | None = None
    ) -> None:
        super().__init__(data, initial=_initial(rule))
        for name in LIMITS:
            self.fields[name].widget = forms.TextInput(attrs=NUMBER)
        names = RaceClass.objects.filter(rulebook=rulebook).values_list("name", "name")
        # What an imported rule says of a class elsewhere is not lost by a look at it.
        here = dict(names) | {name: name for name in (rule.classes if rule else ())}
        self._choose("quantity", [("", _("– choose –")), *_quantities()])
        self._choose("classes", list(here.items()))
        self._choose("condition", [("", _("every car")), *_conditions()])
        if not here:
            del self.fields["classes"]

    def _choose(self, name: str, choices: list[Any]) -> None:
        self.fields[name].choices = choices  # type: ignore[attr-defined]

    def keep_typed(self, data: Any) -> None:
        """Show what was typed, without a check of any of it."""
        for name, field in self.fields.items():
            self.initial[name] = field.widget.value_from_datadict(data, {}, name)

    @property
    def chosen_quantity(self) -> Quantity | None:
        """The quantity that is chosen so far, whether or not the rest is sound."""
        return QUANTITIES.get(str(self["quantity"].value()))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        quantity = QUANTITIES.get(cleaned.get("quantity", ""))
        for name in LIMITS:
            text = cleaned.get(name)
            cleaned[name] = None
            if text and quantity is not None:
                try:
                    cleaned[name] = read_number(text, quantity.unit)
                except forms.ValidationError as error:
                    self.add_error(name, error)
        return cleaned

    def rule(self) -> RuleText:
        cleaned = self.cleaned_data
        key, _sep, word = cleaned["condition"].partition("=")
        return RuleText(
            number=cleaned["number"],
            sentence=cleaned["sentence"].replace("\r\n", " ").replace("\n", " "),
            quantity=cleaned["quantity"],
            lower=cleaned["lower"],
            upper=cleaned["upper"],
            lower_after=cleaned["lower_after"],
            upper_after=cleaned["upper_after"],
            required=Answer(cleaned["required"]) if cleaned["required"] else None,
            force=Force(cleaned["force"]),
            stage=Stage(cleaned["stage"]),
            evidence=Evidence(cleaned["evidence"]),
            classes=tuple(sorted(cleaned.get("classes", ()))),
            condition_key=key,
            condition_word=word,
        )


def _initial(rule: RuleText | None) -> dict[str, Any]:
    if rule is None:
        return {}
    return {
        "number": rule.number,
        "quantity": rule.quantity,
        "sentence": rule.sentence,
        **{name: number_text(getattr(rule, name)) for name in LIMITS},
        "required": rule.required or "",
        "force": rule.force,
        "stage": rule.stage,
        "evidence": rule.evidence,
        "classes": list(rule.classes),
        "condition": f"{rule.condition_key}={rule.condition_word}".strip("="),
    }


def _quantities() -> Iterable[tuple[Any, list[tuple[str, str]]]]:
    for heading, rows in GROUPS:
        ruled = [row for row in rows if row.kind is not Kind.DECLARED]
        yield heading, [(row.key, quantity_name(row)) for row in ruled]


def _conditions() -> Iterable[tuple[str, str]]:
    for row in QUANTITIES.values():
        for word in row.words or ():
            yield f"{row.key}={word.value}", f"{quantity_name(row)}: {word_of(word)}"


class ImportForm(PageForm):
    """Another club's file."""

    file = forms.FileField(
        label=_("File"),
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
    )
    adds_classes = forms.BooleanField(
        label=_("Add the classes that this club does not have"), required=False
    )


class PublishForm(PageForm):
    """The nights whose classes race by the edition as soon as it is published."""

    nights = forms.ModelMultipleChoiceField(
        RaceNight.objects.none(),
        label=_("Race by it at once"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Sheets that are open keep the edition they began with."),
    )

    def __init__(self, data: Any = None, *, rulebook_id: int) -> None:
        super().__init__(data)
        to_come = RaceNight.objects.filter(
            closed_at=None, classes__race_class__rulebook=rulebook_id
        ).distinct()
        self.fields["nights"].queryset = to_come  # type: ignore[attr-defined]
        if not to_come:
            del self.fields["nights"]
