"""Forms by which a batch comes in: a file, a paste, or the caliper."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.batches import NewBench
from inventory.actions.drafts import NewDraft
from inventory.compute.batch_rows import PartWord
from inventory.compute.batch_words import BatchSource
from inventory.compute.stock import PartKind
from inventory.files.columns import (
    ROLES_OF,
    ColumnRole,
    DecimalSign,
    Layout,
    LengthUnit,
)
from inventory.files.tables import Table
from inventory.files.text import DIVIDERS, NO_DIVIDER
from inventory.forms.base import PageForm
from inventory.forms.parts import LengthField
from inventory.loaders.gauges import LoadedGauge

_SHORT = {"class": "short", "autocomplete": "off"}
_COUNT = {"inputmode": "numeric", "class": "number-input short", "autocomplete": "off"}
DIVIDER_NAMES = {
    "\t": _("tab"),
    ";": _("semicolon"),
    ",": _("comma"),
    NO_DIVIDER: _("none, one column"),
}


class NewBatchForm(PageForm):
    """What is said of a batch as a whole, whichever way it comes in."""

    name = forms.CharField(
        label=_("Name of the batch"),
        max_length=60,
        help_text=_("What is written on the bag, say."),
    )
    gauge = forms.TypedChoiceField(label=_("Gauge"), coerce=int, empty_value=None)
    compound = forms.CharField(label=_("Compound"), required=False, max_length=30)
    width_code = forms.CharField(label=_("Width code"), required=False, max_length=20)
    wheel = forms.CharField(label=_("Wheel"), required=False, max_length=30)
    drawer = forms.CharField(label=_("Drawer"), required=False, max_length=40)

    def __init__(
        self, data: Any = None, files: Any = None, *, gauges: list[LoadedGauge]
    ) -> None:
        # The three ways stand on one page: their fields need ids of their own.
        super().__init__(data, files, auto_id=f"id_{type(self).__name__.lower()}_%s")
        self.gauges = {one.mode.pk: one for one in gauges}
        self.fields["gauge"].choices = [  # type: ignore[attr-defined]
            ("", "–"),
            *((one.mode.pk, f"{one.mode} — {one.standing}") for one in gauges),
        ]

    @property
    def chosen_gauge(self) -> LoadedGauge | None:
        return self.gauges.get(self.cleaned_data["gauge"])

    @property
    def words(self) -> dict[PartWord, str]:
        said = self.cleaned_data
        return {
            PartWord.COMPOUND: said["compound"],
            PartWord.WIDTH_CODE: said["width_code"],
            PartWord.WHEEL: said["wheel"],
            PartWord.DRAWER: said["drawer"],
        }


class DraftForm(NewBatchForm):
    """A table that comes in, of tyres or of motors."""

    kind = forms.ChoiceField(
        label=_("Parts"),
        choices=[(PartKind.TYRE, _("tyres")), (PartKind.MOTOR, _("motors"))],
        initial=PartKind.TYRE,
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["gauge"].required = False

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("kind") == PartKind.TYRE and said.get("gauge") is None:
            self.add_error("gauge", _("Say with which gauge the tyres were read."))
        return said

    def new_draft(self, content: bytes, source: BatchSource, file: str) -> NewDraft:
        return NewDraft(
            name=self.cleaned_data["name"],
            content=content,
            kind=PartKind(self.cleaned_data["kind"]),
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
        help_text=_("CSV or XLSX, at most 20 MB and 200,000 rows."),
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
    )


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


class LayoutForm(PageForm):
    """What the columns of a table are; what stands there now is what was guessed."""

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
    low = LengthField(label=_("Smallest tyre possible"), required=True, max_length=20)
    high = LengthField(label=_("Largest tyre possible"), required=True, max_length=20)
    sheet = forms.ChoiceField(label=_("Sheet"), required=False)
    divider = forms.ChoiceField(label=_("Columns are divided by"), required=False)

    def __init__(
        self, data: Any = None, *, table: Table, layout: Layout, kind: PartKind
    ) -> None:
        super().__init__(data, initial=_shown(table, layout))
        self.table, self.layout = table, layout
        names = [(role.value, role.value) for role in ROLES_OF[kind]]
        for column, role in enumerate(layout.roles):
            self.fields[f"role{column}"] = forms.ChoiceField(
                choices=names, initial=role.value, label=""
            )
        if kind is not PartKind.TYRE:
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
        said, facts = self.cleaned_data, self.table.facts
        return bool(
            said.get("sheet", facts.sheet) != facts.sheet
            or said.get("divider", facts.divider) != facts.divider
        )

    def said(self) -> Layout:
        said, was = self.cleaned_data, self.layout
        return Layout(
            first_row=min(said["first_row"] - 1, max(len(self.table.rows) - 1, 0)),
            roles=tuple(
                ColumnRole(said[f"role{column}"]) for column in range(len(was.roles))
            ),
            unit=LengthUnit(said.get("unit", was.unit)),
            decimal=DecimalSign(said["decimal"]),
            low_mm=said["low"] / 1e6 if "low" in said else was.low_mm,
            high_mm=said["high"] / 1e6 if "high" in said else was.high_mm,
        )


def _shown(table: Table, layout: Layout) -> dict[str, Any]:
    return {
        "first_row": layout.first_row + 1,
        "unit": layout.unit,
        "decimal": layout.decimal,
        "low": f"{layout.low_mm:g}",
        "high": f"{layout.high_mm:g}",
        "sheet": table.facts.sheet,
        "divider": table.facts.divider,
    }
