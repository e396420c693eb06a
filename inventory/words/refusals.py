"""
Why computing refuses something that a person asked for, in sentences.

Refusals that only a programmer sees say so themselves.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from inventory.compute.errors import ComputeError
from inventory.compute.file_refusals import NoTableError
from inventory.compute.measuring import (
    MissingReadingError,
    NotAStudyError,
    NothingVariesError,
    RangeFactorsError,
    SmallStudyError,
)
from inventory.compute.motors import (
    DrawnTwiceError,
    NoSeedError,
    TooFewMotorsError,
)
from inventory.compute.pairing import (
    NotALimitError,
    NotSaidOfTheBagError,
    TooManyLinksError,
)
from inventory.compute.stock import NotAFactError
from inventory.words.enumerations import word_of

#: What is filled in is what the refusal knows.
_SENTENCES: Final[Mapping[type[ComputeError], Promise]] = MappingProxyType(
    {
        NoSeedError: gettext_lazy("A draw needs a seed."),
        DrawnTwiceError: gettext_lazy("“%(tag)s” is on the list twice."),
        TooFewMotorsError: gettext_lazy(
            "There are %(motors)s motors for %(drivers)s drivers; one each is needed."
        ),
        SmallStudyError: gettext_lazy(
            "A study has two or more parts, people and trials."
        ),
        RangeFactorsError: gettext_lazy(
            "Average and range takes at most 10 parts, 3 people and 3 trials; analysis "
            "of variance takes more."
        ),
        NotAStudyError: gettext_lazy(
            "These are no readings of a study: one number for each part, person and "
            "trial was expected."
        ),
        NothingVariesError: gettext_lazy(
            "All readings are the same, so there is nothing to split."
        ),
        TooManyLinksError: gettext_lazy(
            "%(total)s pairs are possible; narrow the tolerance or split the bag."
        ),
        NotSaidOfTheBagError: gettext_lazy(
            "No tyre of this bag says its %(each)s, so like cannot be kept with like "
            "in it; say the %(each)s, or pair without it."
        ),
        NotALimitError: gettext_lazy(
            "A tolerance or a stagger is not below 0, and at most a kilometre."
        ),
    }
)


def refusal_words(error: ComputeError) -> str:
    """
    Say why something that was asked for cannot be computed.

    Parameters
    ----------
    error : ComputeError
        What computing refused.

    Returns
    -------
    str
        A sentence; what the error itself says where only a programmer meets it.
    """
    if isinstance(error, NoTableError):
        return _(error.why) % error.found
    if isinstance(error, NotAFactError):
        return _of_fact(error)
    if isinstance(error, MissingReadingError):
        return _of_reading(error)
    for kind in type(error).__mro__:
        if sentence := _SENTENCES.get(kind):
            return str(sentence) % {
                name: word_of(value) if isinstance(value, StrEnum) else value
                for name, value in vars(error).items()
            }
    return str(error)


def _of_fact(error: NotAFactError) -> str:
    fact = error.fact
    if fact.words is not None:
        # As they are read, which is in no other language.
        filled_in = {
            "what": _(fact.label).casefold(),
            "words": ", ".join(word.value for word in fact.words),
        }
        return _("no %(what)s is called so; expected one of %(words)s.") % filled_in
    filled_in = {"low": str(fact.low), "high": str(fact.high)}
    return _("expected a whole number from %(low)s to %(high)s.") % filled_in


def _of_reading(error: MissingReadingError) -> str:
    numbers = [str(place + 1) for place in error.position]
    names = ("part", "person", "trial")
    if len(numbers) != len(names):
        return _("Reading %(n)s is missing.") % {"n": numbers[0]}
    return _(
        "The reading of part %(part)s by person %(person)s, trial %(trial)s, is "
        "missing."
    ) % dict(zip(names, numbers, strict=True))
