"""
A form over what stands: what was seen of it goes along, and is held against it.

Two people open the same page; the second to send it would undo what the first has
said, without a word.  So each such form carries what stood in its fields when it was
opened, signed.  Where something else stands there by then, nothing is written: the
second is told who changed what, keeps what was typed, and may send it once more.
"""

from collections.abc import Mapping
from typing import Any, Final, cast

from django import forms
from django.core import signing
from django.db.models import Model
from django.http import QueryDict
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from inventory.forms.base import PageForm
from inventory.loaders.last_changes import last_change

_SALT: Final = "what was seen"
_SHOWN: Final = 60


class SeenForm(PageForm):
    """A form that changes what stands; see the module."""

    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    #: What is changed: the audit says who did that last.
    of: Model | None = None

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        if field_name == "seen":
            return signing.dumps(self.as_it_stands(), salt=_SALT, compress=True)
        return super().get_initial_for_field(field, field_name)

    def as_it_stands(self) -> dict[str, str]:
        """Give the fields as they would be shown to whoever opens the page now."""
        initial = super().get_initial_for_field
        return {
            name: _word(field.prepare_value(initial(field, name)))
            for name, field in self.fields.items()
            if name != "seen"
        }

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        if self.of is None or not (sent := (cleaned or {}).get("seen")):
            return cleaned
        now = self.as_it_stands()
        try:
            seen = signing.loads(sent, salt=_SALT)
        except signing.BadSignature:
            self._rest_on_what_stands()
            msg = _("What this page was opened with cannot be read; look at it again.")
            self.add_error(None, forms.ValidationError(msg, code="seen_unreadable"))
            return cleaned
        other = [name for name in now if now[name] != seen.get(name, now[name])]
        if other:
            self._rest_on_what_stands()
            self.add_error(None, self._changed(other, seen, now))
        return cleaned

    def _rest_on_what_stands(self) -> None:
        """Let the form, sent once more, rest on what stands now."""
        data = cast("QueryDict", self.data).copy()
        data[self.add_prefix("seen")] = self.get_initial_for_field(
            self.fields["seen"], "seen"
        )
        self.data = data

    def _changed(
        self, names: list[str], seen: Mapping[str, str], now: Mapping[str, str]
    ) -> forms.ValidationError:
        what = "; ".join(
            _("%(label)s: “%(before)s” became “%(after)s”")
            % {
                "label": self[name].label,
                "before": self._shown(name, seen[name]),
                "after": self._shown(name, now[name]),
            }
            for name in names
        )
        return forms.ValidationError(
            _(
                "%(who)s since you opened this page. %(what)s. Nothing was kept yet: "
                "what you typed is below, and sent once more it takes that place."
            ),
            code="changed_since",
            params={"who": self._who(), "what": what},
        )

    def _who(self) -> str:
        row = last_change(self.of) if self.of is not None else None
        if row is None or row.actor is None:
            return _("This was changed")
        at = date_format(timezone.localtime(row.at), "H:i")
        return _("%(who)s has changed this at %(at)s") % {"who": row.actor, "at": at}

    def _shown(self, name: str, word: str) -> str:
        """Say a value as the page says it: of a choice its label."""
        choices = getattr(self.fields[name], "choices", ())
        labels = {_word(value): str(label) for value, label in choices}
        return labels.get(word, word)[:_SHOWN]


def _word(value: Any) -> str:
    if isinstance(value, Model):
        value = value.pk
    if isinstance(value, list | tuple | set):
        return ", ".join(sorted(map(_word, value)))
    return "" if value is None else str(value).strip()
