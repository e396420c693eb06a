"""The form that takes a starting rulebook under the club's own names."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inspection.compute.rulebooks import RulebookText
from inspection.files.rulebooks import LONGEST
from inspection.files.starting_rulebooks import classes_of, renamed
from inspection.models import RaceClass, Rulebook
from inventory.forms.base import PageForm


class StartForm(PageForm):
    """What the club calls the rulebook and its classes."""

    name = forms.CharField(
        label=_("What your club calls it"), max_length=LONGEST["rulebook"]
    )

    def __init__(self, data: Any = None, *, text: RulebookText) -> None:
        super().__init__(data, initial={"name": text.rulebook})
        self.text = text
        self.classes = {f"class_{n}": one for n, one in enumerate(classes_of(text))}
        for field, name in self.classes.items():
            self.fields[field] = forms.CharField(
                label=_("Class, here “%(name)s”") % {"name": name},
                max_length=LONGEST["class"],
                initial=name,
            )

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        if Rulebook.objects.filter(name=name).exists():
            msg = _("A rulebook is already called “%(name)s”.")
            raise forms.ValidationError(msg, params={"name": name})
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        typed = {field: cleaned[field] for field in self.classes if field in cleaned}
        taken = RaceClass.objects.filter(name__in=typed.values())
        here = set(taken.values_list("name", flat=True))
        for field, name in typed.items():
            if name in here:
                self._wrong(
                    field, gettext("A class is already called “%(name)s”."), name
                )
            elif list(typed.values()).count(name) > 1:
                self._wrong(field, gettext("“%(name)s” stands twice."), name)
        return cleaned

    def _wrong(self, field: str, sentence: str, name: str) -> None:
        error = forms.ValidationError(sentence, params={"name": name})
        self.add_error(field, error)

    def under_own_names(self) -> RulebookText:
        cleaned = self.cleaned_data
        classes = {name: cleaned[field] for field, name in self.classes.items()}
        return renamed(self.text, cleaned["name"], classes)
