"""What a check of the seals found, in a line."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext


def seals_hold_words(seals: int) -> str:
    """Say that each of so many seals holds."""
    return ngettext("%(n)d seal holds.", "%(n)d seals hold.", seals) % {"n": seals}


def differences_words(differences: int, seals: int) -> str:
    """Say how many differences so many seals showed."""
    found = ngettext("%(n)d difference", "%(n)d differences", differences)
    checked = ngettext("%(n)d seal was checked.", "%(n)d seals were checked.", seals)
    return f"{found % {'n': differences}}; {checked % {'n': seals}}"


def seals_are_here_words(night: str, seals: int, head: str, later: int) -> str:
    """Say that a night's seals up to a head are in the database."""
    sentence = ngettext(
        "%(night)s: %(n)d seal up to %(head)s… is here",
        "%(night)s: %(n)d seals up to %(head)s… are here",
        seals,
    )
    return _ended(sentence % {"night": night, "n": seals, "head": head}, later)


def links_are_here_words(links: int, head: str, later: int) -> str:
    """Say that the audit's links up to a head are in the database."""
    sentence = ngettext(
        "the audit's chain: %(n)d link up to %(head)s… is here",
        "the audit's chain: %(n)d links up to %(head)s… are here",
        links,
    )
    return _ended(sentence % {"n": links, "head": head}, later)


def _ended(said: str, later: int) -> str:
    if not later:
        return f"{said}."
    return _("%(said)s, %(n)d since.") % {"said": said, "n": later}
