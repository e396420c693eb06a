"""Several things of which one is meant, in a sentence."""

from collections.abc import Iterable

from django.utils.translation import gettext as _


def one_or_other(words: Iterable[str]) -> str:
    """
    Join alternatives: one or other.

    Parameters
    ----------
    words : iterable of str
        As they are read, in their order.

    Returns
    -------
    str
        As it stands in the middle of a sentence; a dash where there is none.
    """
    first, *others = [*words] or ["–"]
    for other in others:
        first = _("%(one)s or %(other)s") % {"one": first, "other": other}
    return first
