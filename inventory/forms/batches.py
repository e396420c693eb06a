"""Forms by which a batch comes in: a file, a paste, or the caliper."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.actions.batches import NewBench
from inventory.actions.drafts import NewDraft
from inventory.compute.batches import BatchSource, RowFault
from inventory.compute.numbers import Unit, from_millionths
from inventory.compute.stock import KINDS, Fact, PartKind
from inventory.files.columns import (
    ColumnLayout,
    DecimalSign,
    LengthUnit,
    column_number,
)
from inventory.files.roles import roles_by_name, roles_of
from inventory.files.rows import SUM_ROW
from inventory.files.tables import Table
from inventory.files.text import DIVIDERS, NO_DIVIDER
from inventory.forms.base import PageForm
from inventory.forms.gauge_choice import EMPTY, offer_gauges
from inventory.forms.stock import NOT_KNOWN, LengthField, field_of
from inventory.loaders.gauges import LoadedGauge
from inventory.models import BatchDraft
from inventory.words.enumerations import word_choices

KIND_CHOICES = [(kind.value, _(declared.plural)) for kind, declared in KINDS.items()]
_SHORT = {"class": "short", "autocomplete": "off"}
_COUNT = {"inputmode": "numeric", "class": "number-input short", "autocomplete": "off"}
DIVIDER_NAMES = {
    "\t": _("tab"),
    ";": _("semicolon"),
    ",": _("comma"),
    NO_DIVIDER: _("none, one column"),
}


def has_come(day: dt.date) -> None:
    """Refuse a day that has not come yet."""
    if day > timezone.localdate():
        raise forms.ValidationError(_("This day has not come yet."), code="future_day")


class NewBatchForm(PageForm):
    """What is said of a batch as a whole, whichever way it comes in."""

    name = forms.CharField(
        label=_("Name of the batch"),
        max_length=60,
        help_text=_("What is written on the bag, say."),
    )
    gauge = forms.TypedChoiceField(label=_("Gauge"), coerce=int, empty_value=None)
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)
    #: The kinds that may come in this way.
    kinds: ClassVar[tuple[PartKind, ...]] = (PartKind.TYRE,)

    def __init__(
        self, data: Any = None, files: Any = None, *, gauges: list[LoadedGauge]
    ) -> None:
        # The three ways stand on one page: their fields need ids of their own.
        super().__init__(data, files, auto_id=f"id_{type(self).__name__.lower()}_%s")
        self.facts = {
            fact.name: fact for kind in self.kinds for fact in KINDS[kind].fact_list
        }
        for name, fact in self.facts.items():
            self.fields[name] = field_of_all(fact)
        self.gauges = offer_gauges(self.fields["gauge"], gauges, before=EMPTY)

    @property
    def chosen_gauge(self) -> LoadedGauge | None:
        return self.gauges.get(self.cleaned_data["gauge"])

    @property
    def words(self) -> dict[str, str]:
        names = (*self.facts, "drawer", "read_on")
        return {name: str(self.cleaned_data.get(name) or "") for name in names}

    @property
    def fact_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in (*self.facts, "drawer")]


class DraftForm(NewBatchForm):
    """A table that comes in, of parts of any kind."""

    kinds: ClassVar = tuple(PartKind)
    kind = forms.ChoiceField(
        label=_("Parts"),
        choices=[("", _("as the table says")), *KIND_CHOICES],
        required=False,
    )

    read_on = forms.DateField(
        label=_("Read on"),
        required=False,
        help_text=_("The day, if it is long ago; a column of dates goes before."),
        widget=forms.DateInput(attrs={"type": "date"}),
        validators=[has_come],
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["gauge"].required = False
        first, *rest = self.fields["gauge"].choices  # type: ignore[attr-defined]
        unknown = (NOT_KNOWN, _("not known: an old list"))
        self.fields["gauge"].choices = [first, unknown, *rest]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        needs_gauge = cleaned.get("kind") in {"", PartKind.TYRE}
        if needs_gauge and "gauge" in cleaned and cleaned["gauge"] is None:
            text = _(
                "Say with which gauge the sizes were read, or that it is not known."
            )
            self.add_error("gauge", text)
        return cleaned

    def new_draft(self, content: bytes, source: BatchSource, file: str) -> NewDraft:
        return NewDraft(
            name=self.cleaned_data["name"],
            content=content,
            kind=PartKind(kind) if (kind := self.cleaned_data["kind"]) else None,
            source=source,
            file_name=file,
            gauge=self.chosen_gauge,
            words=self.words,
        )


class UploadForm(DraftForm):
    """A file of a spreadsheet."""

    file = forms.FileField(
        label=_("File"),
        allow_empty_file=True,
        required=False,
        help_text=_("CSV, XLSX or JSON, at most 20 MB and 200,000 rows."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx,.json"}),
    )
    kept: BatchDraft | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not cleaned.get("file") and self.kept is None and not self.has_error("file"):
            self.add_error("file", _("Choose the file that is to be looked at."))
        return cleaned


class PasteForm(DraftForm):
    """Cells copied out of a spreadsheet."""

    table = forms.CharField(
        label=_("Table"),
        strip=False,
        max_length=2_000_000,
        widget=forms.Textarea(
            attrs={"rows": 10, "class": "pasted", "spellcheck": "false"}
        ),
        help_text=_("Copy the cells in the spreadsheet, headings too, and paste."),
    )


class BenchForm(NewBatchForm):
    """A batch to be measured here, tyre after tyre."""

    reading_count = forms.IntegerField(
        label=_("Readings round the tread"),
        min_value=1,
        max_value=12,
        initial=3,
        widget=forms.TextInput(attrs=_COUNT),
    )
    at_edges = forms.BooleanField(
        label=_("At the inner and the outer edge, for the taper"), required=False
    )

    def new_bench(self) -> NewBench:
        gauge = self.chosen_gauge
        if gauge is None:
            raise ValueError(self.cleaned_data["gauge"])
        return NewBench(
            name=self.cleaned_data["name"],
            gauge=gauge,
            reading_count=self.cleaned_data["reading_count"],
            at_edges=self.cleaned_data["at_edges"],
            words=self.words,
        )


class MendForm(PageForm):
    """The wrong cells of a table, to be typed again, and rows that look like sums."""

    def __init__(
        self, data: Any = None, *, faults: Sequence[RowFault], table: Table
    ) -> None:
        super().__init__(data)
        self.rows: list[tuple[RowFault, forms.BoundField | None]] = []
        for fault in faults:
            name = self._add(fault, table)
            self.rows.append((fault, self[name] if name else None))

    def _add(self, fault: RowFault, table: Table) -> str:
        row = fault.number - 1
        if fault.code == SUM_ROW:
            name = f"part-{row}"
            self.fields[name] = forms.BooleanField(label=_("a part"), required=False)
            return name
        if not fault.column:
            return ""
        column = column_number(fault.column)
        cells = table.rows[row]
        name = f"cell-{row}-{column}"
        label = _("Row %(row)d, column %(column)s") % {
            "row": fault.number,
            "column": fault.column,
        }
        self.fields[name] = forms.CharField(
            label=label,
            required=False,
            max_length=200,
            initial=cells[column] if column < len(cells) else "",
            widget=forms.TextInput(attrs=_SHORT | {"aria-label": label}),
        )
        return name

    @property
    def cells(self) -> dict[tuple[int, int], str]:
        """The cells that were typed again, by position of row and column."""
        cells: dict[tuple[int, int], str] = {}
        for name in self.changed_data:
            what, _divider, where = name.partition("-")
            if what == "cell":
                row, _divider, column = where.partition("-")
                cells[int(row), int(column)] = self.cleaned_data[name]
        return cells

    @property
    def parts(self) -> list[int]:
        """The positions of rows that are parts though they look like sums."""
        return [
            int(name.removeprefix("part-"))
            for name, is_part in self.cleaned_data.items()
            if name.startswith("part-") and is_part
        ]


class LayoutForm(PageForm):
    """What the columns of a table are; what stands there now is what was guessed."""

    kind = forms.ChoiceField(label=_("The rows are"), choices=KIND_CHOICES)
    first_row = forms.IntegerField(
        label=_("Data start in row"),
        min_value=1,
        max_value=200_000,
        widget=forms.TextInput(attrs=_COUNT),
    )
    unit = forms.ChoiceField(
        label=_("Sizes without a unit are in"),
        choices=[
            (LengthUnit.MILLIMETRE, _("millimetres")),
            (LengthUnit.INCH, _("inches")),
        ],
    )
    decimal = forms.ChoiceField(
        label=_("Decimal sign"),
        choices=[
            (DecimalSign.ASKED, _("not said yet")),
            (DecimalSign.POINT, _("point")),
            (DecimalSign.COMMA, _("comma")),
            (DecimalSign.EITHER, _("both are decimal signs")),
        ],
    )
    low = LengthField(label=_("Smallest size possible"), required=True, max_length=20)
    high = LengthField(label=_("Largest size possible"), required=True, max_length=20)
    sheet = forms.ChoiceField(label=_("Sheet"), required=False)
    divider = forms.ChoiceField(label=_("Columns are divided by"), required=False)

    def __init__(
        self, data: Any = None, *, table: Table, layout: ColumnLayout, kind: PartKind
    ) -> None:
        super().__init__(data, initial=_shown(table, layout) | {"kind": kind})
        self.table, self.layout, self.was_kind = table, layout, kind
        names = [(role.name, role.name) for role in roles_of(kind)]
        self.roles = roles_by_name(kind)
        for column, role in enumerate(layout.roles):
            self.fields[f"role{column}"] = forms.ChoiceField(
                choices=names, initial=role.name, label=""
            )
        if KINDS[kind].main.unit is not Unit.MILLIMETRE:
            for name in ("unit", "low", "high"):
                del self.fields[name]
        self._offer("sheet", [(name, name) for name in table.facts.sheets])
        dividers = [(sign, DIVIDER_NAMES[sign]) for sign in (*DIVIDERS, NO_DIVIDER)]
        self._offer("divider", dividers if table.facts.divider else [])

    def _offer(self, name: str, choices: list[tuple[str, Any]]) -> None:
        if len(choices) < 2:
            del self.fields[name]
            return
        self.fields[name].choices = choices  # type: ignore[attr-defined]

    @property
    def reads_again(self) -> bool:
        """Whether another sheet or divider is asked for."""
        cleaned, facts = self.cleaned_data, self.table.facts
        return bool(
            cleaned.get("sheet", facts.sheet) != facts.sheet
            or cleaned.get("divider", facts.divider) != facts.divider
        )

    @property
    def other_kind(self) -> PartKind | None:
        """The kind that the rows are said to be, if it is not what they were."""
        kind = PartKind(self.cleaned_data["kind"])
        return kind if kind is not self.was_kind else None

    def said(self) -> ColumnLayout:
        cleaned, was = self.cleaned_data, self.layout
        return ColumnLayout(
            shape=was.shape,
            parts=was.parts,
            first_row=min(cleaned["first_row"] - 1, max(len(self.table.rows) - 1, 0)),
            roles=tuple(
                self.roles[cleaned[f"role{column}"]] for column in range(len(was.roles))
            ),
            unit=LengthUnit(cleaned.get("unit", was.unit)),
            decimal=DecimalSign(cleaned["decimal"]),
            low_mm=from_millionths(cleaned["low"]) if "low" in cleaned else was.low_mm,
            high_mm=from_millionths(cleaned["high"])
            if "high" in cleaned
            else was.high_mm,
        )


def field_of_all(fact: Fact) -> forms.Field:
    """Give the field by which a fact is said of all parts of a batch, or not at all."""
    field = field_of(fact)
    field.required = False
    if isinstance(field, forms.ChoiceField):
        field.choices = [("", "–"), *word_choices(fact.words)] if fact.words else []
    return field


def _shown(table: Table, layout: ColumnLayout) -> dict[str, Any]:
    return {
        "first_row": layout.first_row + 1,
        "unit": layout.unit,
        "decimal": layout.decimal,
        "low": f"{layout.low_mm:g}",
        "high": f"{layout.high_mm:g}",
        "sheet": table.facts.sheet,
        "divider": table.facts.divider,
    }
