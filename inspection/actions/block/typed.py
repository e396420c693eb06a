"""What was typed as a reading, turned into what its row holds."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from inspection.compute.night import ReadingKind
from inspection.compute.quantities import Quantity
from inspection.compute.rulebooks import Answer
from inspection.words.quantities import quantity_name
from inventory.actions.refusals import RefusedError
from inventory.compute.errors import ComputeError
from inventory.compute.numbers import parse_reading
from inventory.words.numbers import error_words


@dataclass(frozen=True, kw_only=True)
class Parsed:
    """A typed reading turned into what its row holds."""

    kind: ReadingKind
    text: str
    mark: str = ""
    value: int | None = None
    low: int | None = None
    high: int | None = None


def between_slips(
    texts: tuple[str, str], quantity: Quantity, bounds: tuple[int, int], mark: str
) -> Parsed:
    """Take the slip that goes and the one that stops, refusing a thicker first."""
    (low, high), (low_text, high_text) = bounds, texts
    if low > high:
        raise RefusedError(
            code="interval_backwards",
            sentence=_(
                "%(label)s: the slip that goes, “%(low)s”, is thicker than the one "
                "that stops, “%(high)s”."
            )
            % {"label": quantity_name(quantity), "low": low_text, "high": high_text},
            field="high_text",
        )
    text = f"{low_text.strip()} to {high_text.strip()}"
    return Parsed(
        kind=ReadingKind.INTERVAL, text=text[:40], mark=mark, low=low, high=high
    )


def millionths_of(text: str, quantity: Quantity, *, field: str) -> tuple[int, str]:
    """Read a number as typed: its millionths, and its mark of inches."""
    try:
        number = parse_reading(text, unit=quantity.unit)
    except ComputeError as error:
        raise RefusedError(
            code=error.code,
            sentence=_("%(quantity)s: %(why)s")
            % {"quantity": quantity_name(quantity), "why": error_words(error)},
            field=field,
        ) from error
    return number.millionths, number.mark


def need_answer(answer: Answer | None, quantity: Quantity) -> None:
    """Refuse a look that nobody answered."""
    if answer is None:
        raise RefusedError(
            code="answer_missing",
            sentence=_("%(label)s: answer yes or no.")
            % {"label": quantity_name(quantity)},
            field="answer",
        )
