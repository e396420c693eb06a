"""A night's chain as its links."""

from inspection.compute.night import Link
from inspection.models import Seal


def links_of_night(night_id: int) -> list[Link]:
    """Give the links of a night's chain, in order."""
    seals = Seal.objects.filter(night=night_id).select_related("signed")
    return [
        Link(
            content=seal.content,
            previous_sha256=seal.previous_sha256,
            sha256=seal.sha256,
        )
        for seal in seals.order_by("sequence")
    ]
