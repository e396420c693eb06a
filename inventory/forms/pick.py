"""One of many, typed by what it is called, with a short list of some beside it."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, ClassVar, Generic, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from inventory.forms.base import PageForm

Row = TypeVar("Row")


class PickInput(forms.TextInput):
    """A text field with some of what may be typed into it, which the browser offers."""

    template_name = "inventory/pieces/pick.html"
    #: Asked for when the field is shown.
    offered: Callable[[], Iterable[str]] = staticmethod(tuple)

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocomplete": "off", **(attrs or {})})

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        widget = context["widget"]
        widget["offered"] = self.offered()
        widget["attrs"]["list"] = f"{widget['attrs'].get('id', name)}_offered"
        return context


class PickField(forms.CharField, Generic[Row]):
    """
    A row that is typed by its name, its number or its tag.

    What it is cleaned to is the row, or None where nothing was typed.
    """

    widget = PickInput
    default_error_messages: ClassVar = {
        "unknown": _("“%(typed)s” is not known here: its name is expected."),
        "several": _("“%(typed)s” may be %(which)s: type which."),
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=100, **kwargs)
        self._picked: tuple[Any, Row] | None = None

    def find(self, text: str) -> Sequence[Row]:
        """Give the rows that a typed text may mean."""
        raise NotImplementedError

    def name(self, row: Row) -> str:
        """Write a row so that it is understood when it is typed."""
        return str(row)

    def full_name(self, row: Row) -> str:
        """Write a row so that it is told from others of the same name."""
        return self.name(row)

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if not typed:
            return None
        rows = self.find(typed)
        if len(rows) != 1:
            code = "several" if rows else "unknown"
            which = ", ".join(self.full_name(row) for row in rows)
            raise ValidationError(
                self.error_messages[code],
                code=code,
                params={"typed": typed, "which": which},
            )
        self._picked = value, rows[0]
        return rows[0]

    def prepare_value(self, value: Any) -> Any:
        """Show what was picked by its whole name."""
        if self._picked is not None and self._picked[0] == value:
            return self.name(self._picked[1])
        return value


class SearchForm(PageForm):
    """Words that a list is searched by."""

    q = forms.CharField(label=_("Search"), required=False, max_length=100)

    @property
    def words(self) -> str:
        """What was typed; nothing where it is too long."""
        return str(self.cleaned_data["q"]) if self.is_valid() else ""
