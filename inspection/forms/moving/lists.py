"""Forms of the lists by which a club moves in."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inspection.compute.lists import ListKind
from inspection.files.lists.columns import COLUMNS_OF
from inventory.forms.base import PageForm


class ListForm(PageForm):
    """A list as a file."""

    file = forms.FileField(
        label=_("List"),
        help_text=_("CSV or XLSX, up to 20 MB and 5,000 rows."),
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.xlsx,.txt,.tsv"}),
    )


class ListColumnsForm(PageForm):
    """What each column of a list is, and where its rows of data begin."""

    first_row = forms.IntegerField(
        label=_("First row of data"), min_value=1, max_value=5001
    )

    def __init__(
        self,
        data: Any = None,
        *,
        kind: ListKind,
        names: list[str],
        first_row: int,
        headings: list[str],
    ) -> None:
        super().__init__(data, initial={"first_row": first_row + 1})
        choices: list[tuple[str, Any]] = [("", _("not used"))]
        choices += [(one.name, one.heading) for one in COLUMNS_OF[kind]]
        for place, (name, heading) in enumerate(zip(names, headings, strict=True)):
            self.fields[f"column{place}"] = forms.ChoiceField(
                label=heading or _("Column %(n)s") % {"n": place + 1},
                choices=choices,
                required=False,
                initial=name,
            )
        self._count = len(names)

    def names(self) -> list[str]:
        return [self.cleaned_data[f"column{place}"] for place in range(self._count)]

    def columns(self) -> list[Any]:
        return [self[f"column{place}"] for place in range(self._count)]
