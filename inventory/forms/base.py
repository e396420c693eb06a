"""What every form has in common: a refused action's sentence beside its field."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from inventory.actions.refusals import Refusals, RefusedError

_DASHES = forms.ModelChoiceField(None).empty_label


class PageForm(forms.Form):
    """A form that an action may refuse; what was typed is kept."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        for field in self.fields.values():
            # A row of dashes, unless a form says what nothing chosen means.
            if getattr(field, "empty_label", None) == _DASHES:
                field.empty_label = _("choose")  # type: ignore[attr-defined]

    def refuse(self, refusal: RefusedError) -> None:
        field = refusal.field if refusal.field in self.fields else None
        self.add_error(
            field, forms.ValidationError(refusal.sentence, code=refusal.code)
        )

    def refusing(self) -> Refusals:
        """Try an action on what was typed; a refusal stands beside its field."""
        return Refusals(self.refuse)
