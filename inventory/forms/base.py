"""What every form has in common: a refused action's sentence beside its field."""

from django import forms

from inventory.actions.refusals import RefusedError


class PageForm(forms.Form):
    """A form that an action may refuse; what was typed is kept."""

    def refuse(self, refusal: RefusedError) -> None:
        field = refusal.field if refusal.field in self.fields else None
        self.add_error(
            field, forms.ValidationError(refusal.sentence, code=refusal.code)
        )
