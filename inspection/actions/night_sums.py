"""What closed nights add to a season, kept."""

from typing import Final

from inspection.loaders.history.night_sums import count_nights, nights_to_keep
from inspection.models import NightSums

#: So many nights that closed without are made good at a time.
_AT_ONCE: Final = 20


def keep_night_sums() -> None:
    """
    Keep the figures of nights that have closed; part of a caller's transaction.

    Writes a NightSums a night; no audit row, they say nothing that the night's own
    sheets do not.
    """
    counted = count_nights(nights_to_keep(_AT_ONCE))
    NightSums.objects.bulk_create(
        NightSums(night_id=night, figures=sums.kept())
        for night, sums in counted.items()
    )
