"""Collect what is to be translated, with the English that computing declares."""

from pathlib import Path
from typing import Any

from django.core.management.commands import makemessages

from inspection.words.declared import declared_words

#: Only while the command runs: xgettext reads files, and takes what stands in a mark.
_LISTED = Path("inspection/words/declared_for_makemessages.py")


class Command(makemessages.Command):
    """Django's own, which reads a list of those words as well."""

    def handle(self, *args: Any, **options: Any) -> None:
        """Write the list, collect, and take the list away again."""
        marked = (f"gettext_noop({word!r})\n" for word in declared_words())
        _LISTED.write_text("".join(marked), encoding="utf-8")
        try:
            super().handle(*args, **options)
        finally:
            _LISTED.unlink()
