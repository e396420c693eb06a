"""Forms of the parts pages."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.readings import TypedSizes
from inventory.actions.stock import NewPart
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import Unit, find_strange_in, parse_reading
from inventory.compute.stock import (
    KINDS,
    PART_SCALES,
    Fact,
    PartFacts,
    PartKind,
    PartQuantity,
    PartState,
    Size,
    read_tag,
)
from inventory.forms.base import PageForm
from inventory.forms.gauge_choice import EMPTY, offer_gauges
from inventory.forms.people.people import PersonField
from inventory.loaders.gauges import LoadedGauge
from inventory.loaders.parts import PartSearch
from inventory.models import Part, Person
from inventory.words.enumerations import word_choices, word_of
from inventory.words.numbers import error_words
from inventory.words.strange import question_words

ANY: tuple[str, Any] = ("", _("any"))
#: Of a gauge that nobody knows.
NOT_KNOWN = 0
MOST_ALIKE = 100
NUMBER = {"inputmode": "decimal", "class": "number-input short", "autocomplete": "off"}


class LengthField(forms.CharField):
    """A length as people type it; its value is whole millionths of a millimetre."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=forms.TextInput(attrs=NUMBER), **options)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return parse_reading(text, unit=Unit.MILLIMETRE).millionths
        except ComputeError as error:
            raise forms.ValidationError(error_words(error), code=error.code) from error


class PartSearchForm(PageForm):
    """What a search of the parts asks."""

    q = forms.CharField(label=_("Any printed word"), required=False, max_length=60)
    kind = forms.ChoiceField(
        label=_("Kind"), choices=[ANY, *word_choices(PartKind)], required=False
    )
    state = forms.ChoiceField(
        label=_("State"), choices=[ANY, *word_choices(PartState)], required=False
    )
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)
    compound = forms.CharField(label=_("Compound"), required=False, max_length=30)
    pitch = forms.CharField(label=_("Pitch"), required=False, max_length=20)
    teeth = forms.IntegerField(
        label=_("Teeth"),
        required=False,
        min_value=1,
        widget=forms.TextInput(attrs=NUMBER),
    )
    smallest = LengthField(label=_("From size"), required=False)
    largest = LengthField(label=_("To size"), required=False)
    mine = forms.BooleanField(label=_("Mine, or held by me"), required=False)

    def search(self, person: Person) -> PartSearch:
        cleaned = self.cleaned_data if self.is_valid() else {}
        return PartSearch(
            words=as_tag(cleaned.get("q", "")),
            kind=cleaned.get("kind", ""),
            state=cleaned.get("state", ""),
            drawer=cleaned.get("drawer", ""),
            compound=cleaned.get("compound", ""),
            pitch=cleaned.get("pitch", ""),
            teeth=cleaned.get("teeth"),
            smallest=cleaned.get("smallest"),
            largest=cleaned.get("largest"),
            held_by=person if cleaned.get("mine") else None,
        )


def as_tag(words: str) -> str:
    """Read a scanned tag as it is printed; leave other words alone."""
    try:
        return read_tag(words)
    except ComputeError:
        return words


class NewPartForm(PageForm):
    """A part that comes in: the facts and the sizes that its kind declares."""

    name = forms.CharField(label=_("Name"), required=False, max_length=80)
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)
    tag = forms.CharField(
        label=_("Tag"),
        required=False,
        max_length=12,
        help_text=_("Of one that has a tag already; else it gets one."),
    )
    count = forms.IntegerField(
        label=_("How many alike"),
        required=False,
        min_value=1,
        max_value=MOST_ALIKE,
        initial=1,
        widget=forms.TextInput(attrs=NUMBER),
    )
    gauge = forms.TypedChoiceField(
        label=_("Gauge of the lengths"), coerce=int, empty_value=None, required=False
    )
    right = forms.BooleanField(
        label=_("The sizes are right as they stand"), required=False
    )

    def __init__(
        self,
        data: Any = None,
        *,
        kind: PartKind,
        gauges: Sequence[LoadedGauge] = (),
        initial: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=dict(initial or {}))
        self.kind = KINDS[kind]
        self.gauges = offer_gauges(
            self.fields["gauge"],
            gauges,
            before=EMPTY,
            after=[(NOT_KNOWN, _("not known"))],
        )
        for fact in self.kind.fact_list:
            self.fields[fact.name] = field_of(fact)
        for size in self.kind.sizes:
            self.fields[f"size_{size.quantity}"] = forms.CharField(
                label=_(size.name.capitalize()),
                required=False,
                max_length=120,
                widget=forms.TextInput(attrs=NUMBER),
            )
        self.texts: dict[PartQuantity, list[str]] = {}
        self.is_doubted = False

    @property
    def fact_fields(self) -> list[forms.BoundField]:
        names = ("name", *(fact.name for fact in self.kind.fact_list), "drawer")
        return [self[name] for name in names]

    @property
    def size_fields(self) -> list[tuple[forms.BoundField, str]]:
        """The fields of the sizes, each with its unit."""
        return [
            (self[f"size_{size.quantity}"], size.unit.symbol)
            for size in self.kind.sizes
        ]

    def clean(self) -> None:
        super().clean()
        cleaned = self.cleaned_data
        for size in self.kind.sizes:
            if text := cleaned.get(f"size_{size.quantity}"):
                self._take(size, text.split(), is_sure=cleaned.get("right", False))
        is_length = any(
            size.unit is Unit.MILLIMETRE and size.quantity in self.texts
            for size in self.kind.sizes
        )
        if is_length and cleaned.get("gauge") is None and "gauge" not in self.errors:
            text = _(
                "Say with which gauge the sizes were read, or that it is not known."
            )
            self.add_error("gauge", text)
        for fact in self.kind.fact_list:
            text = cleaned.get(fact.name)
            if text and fact.looks and not fact.is_likely(text):
                words = _("“%(text)s” was typed; expected: %(help)s.") % {
                    "text": text,
                    "help": fact.help,
                }
                self.add_error(fact.name, forms.ValidationError(words, code="looks"))
            if not text or fact.only_of is None:
                continue
            other, value = fact.only_of
            if cleaned.get(other) != value:
                text = _("“%(one)s” was typed; %(refusal)s") % {
                    "one": cleaned[fact.name],
                    "refusal": _(fact.refusal),
                }
                self.add_error(fact.name, forms.ValidationError(text, code="only_of"))

    def _take(self, size: Size, texts: list[str], *, is_sure: bool) -> None:
        name = f"size_{size.quantity}"
        try:
            asked = ask_about(texts, size)
        except ComputeError as error:
            self.add_error(
                name, forms.ValidationError(error_words(error), code=error.code)
            )
            return
        if asked and not is_sure:
            self.is_doubted = True
            self.add_error(name, forms.ValidationError(asked, code="strange"))
            return
        self.texts[size.quantity] = texts

    @property
    def typed_sizes(self) -> TypedSizes:
        gauge = self.gauges.get(self.cleaned_data["gauge"])
        return TypedSizes(texts=self.texts, gauge=gauge)

    @property
    def chosen_count(self) -> int:
        return self.cleaned_data["count"] or 1

    def facts(self) -> PartFacts:
        """Give what is said of the part."""
        cleaned = self.cleaned_data
        return self.kind.facts(
            **{
                fact.name: (
                    fact.words(cleaned[fact.name]) if fact.words else cleaned[fact.name]
                )
                for fact in self.kind.fact_list
            }
        )

    def new_part(self) -> NewPart:
        cleaned = self.cleaned_data
        return NewPart(
            facts=self.facts(),
            name=cleaned["name"],
            drawer=cleaned["drawer"],
            tag=cleaned["tag"],
        )


class OwnSpareForm(NewPartForm):
    """A spare of one's own, which others see only if it is shared."""

    shared = forms.BooleanField(
        label=_("Others may see it"),
        required=False,
        help_text=_("Else only you do, and who puts parts on every car."),
    )

    def __init__(
        self, data: Any = None, *, kind: PartKind, gauges: Sequence[LoadedGauge] = ()
    ) -> None:
        super().__init__(data, kind=kind, gauges=gauges, initial={"gauge": NOT_KNOWN})
        self.fields["drawer"].label = _("Where it lies")


def ask_about(texts: Sequence[str], size: Size) -> str:
    """
    Ask about readings of one size that no part of the kind can have; else nothing.

    Raises NumberError for a text that is no number.
    """
    values = [parse_reading(text, unit=size.unit).value for text in texts]
    odd = find_strange_in(values, unit=size.unit, plausible=size.plausible)
    return " ".join(question_words(one, texts[place]) for place, one in odd.items())


def facts_typed(part: Part) -> dict[str, Any]:
    """Give what is typed for a part like one that is in stock."""
    facts = getattr(part, part.kind)
    kind = KINDS[part.kind]
    return {
        "name": part.name,
        "drawer": part.drawer,
        **{fact.name: getattr(facts, fact.name) for fact in kind.fact_list},
    }


def field_of(fact: Fact) -> forms.Field:
    """Give the field by which a fact of a part is typed or chosen."""
    if fact.words is not None:
        return forms.ChoiceField(
            label=_(fact.label),
            choices=word_choices(fact.words),
            help_text=_(fact.help),
        )
    if fact.is_count:
        return forms.IntegerField(
            label=_(fact.label),
            min_value=fact.low,
            max_value=fact.high,
            required=fact.is_required,
            help_text=_(fact.help),
            widget=forms.TextInput(attrs=NUMBER),
        )
    return forms.CharField(
        label=_(fact.label),
        max_length=fact.longest,
        required=fact.is_required,
        help_text=_(fact.help),
    )


class MovePartForm(PageForm):
    """Hand out, take back or retire; to whom and why."""

    to_person = PersonField(label=_("To"), required=False)
    note = forms.CharField(label=_("Note"), required=False, max_length=200)


class MeasurePartForm(PageForm):
    """A set of readings of one quantity, off one gauge."""

    quantity = forms.ChoiceField(
        label=_("Quantity"),
        choices=[(one.value, "") for one in PartQuantity],
    )
    gauge = forms.TypedChoiceField(label=_("Gauge"), coerce=int)
    texts = forms.CharField(
        label=_("Readings"),
        max_length=400,
        help_text=_("One or several, a blank between them; they are averaged."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "decimal"}),
    )
    right = forms.BooleanField(
        label=_("The readings are right as they stand"), required=False
    )

    def __init__(
        self, data: Any = None, *, gauges: list[LoadedGauge], kind: PartKind
    ) -> None:
        super().__init__(data)
        self.is_doubted = False
        if kind is PartKind.GEAR:
            self.fields["texts"].help_text = _(
                "One or several, a blank between them; they are averaged. Over the "
                "teeth, rock the gear between the jaws: the largest reading of an even "
                "count, the least of an odd one."
            )
        self.gauges = offer_gauges(
            self.fields["gauge"], gauges, after=[(NOT_KNOWN, _("not known"))]
        )
        self.fields["quantity"].choices = [  # type: ignore[attr-defined]
            (one.quantity.value, word_of(one.quantity.value.replace("_", " ")))
            for one in KINDS[kind].sizes
        ]

    def clean(self) -> None:
        super().clean()
        cleaned = self.cleaned_data
        if "quantity" not in cleaned or "texts" not in cleaned or cleaned["right"]:
            return
        try:
            asked = ask_about(
                cleaned["texts"].split(), PART_SCALES[self.chosen_quantity]
            )
        except ComputeError as error:
            self.add_error(
                "texts", forms.ValidationError(error_words(error), code=error.code)
            )
            return
        if asked:
            self.is_doubted = True
            self.add_error("texts", forms.ValidationError(asked, code="strange"))

    @property
    def chosen_gauge(self) -> LoadedGauge | None:
        return self.gauges.get(self.cleaned_data["gauge"])

    @property
    def chosen_quantity(self) -> PartQuantity:
        return PartQuantity(self.cleaned_data["quantity"])
