"""Gauges on a protest's sheet: which one is not offered again, and which is."""

from collections.abc import Iterable

from django.utils.translation import gettext as _


def not_again_words(gauges: Iterable[str]) -> str:
    """Say which gauges read it before, so that another one does; empty: none."""
    if not (named := ", ".join(dict.fromkeys(gauges))):
        return ""
    return _(
        "Not offered for the protest: %(gauges)s (read it on the sheet that is "
        "protested against)."
    ) % {"gauges": named}


def for_want_words(gauges: Iterable[str]) -> str:
    """Say which gauges read it before and are all there is; empty: none."""
    if not (named := ", ".join(dict.fromkeys(gauges))):
        return ""
    return _(
        "%(gauges)s read it on the sheet that is protested against; there is no other "
        "of its kind to take."
    ) % {"gauges": named}
