"""Whether a race night is under way."""

from inspection.models import RaceNight


def is_a_night_open() -> bool:
    """Tell whether cars may come to the block now; large imports wait for it."""
    return RaceNight.objects.under_way().exists()
