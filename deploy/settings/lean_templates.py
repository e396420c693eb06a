"""
Templates are indented for their readers; what is sent need not be.

Leading white space goes as a template is read from its file, once, so that a page is
as light as if it had been written in one column.  Lines keep their numbers.
"""

import re

from django.template.base import Origin
from django.template.loaders import app_directories, filesystem

# What shows each blank that stands in it.
_SHOWN = re.compile(r"(<(pre|textarea)\b.*?</\2>)", re.DOTALL)


def unindented(template: str) -> str:
    """Give a template of HTML without what its lines are indented by."""
    parts = _SHOWN.split(template)
    parts[::3] = [re.sub(r"\n[ \t]+", "\n", one) for one in parts[::3]]
    del parts[2::3]
    return "".join(parts)


class _Lean(filesystem.Loader):
    def get_contents(self, origin: Origin) -> str:
        text: str = super().get_contents(origin)
        return unindented(text) if str(origin.name).endswith(".html") else text


class FromFolders(_Lean):
    """Finds templates in the folders of the settings."""


class FromApps(_Lean, app_directories.Loader):
    """Finds templates in the folders of the apps."""
