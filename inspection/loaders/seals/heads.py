"""Heads of chains: what was printed at a closing, looked for in what is here."""

from collections.abc import Iterable
from dataclasses import dataclass
from operator import attrgetter

from inspection.compute.night import Difference
from inspection.models import AuditLink, RaceNight, Seal
from inspection.words.seal_checks import links_are_here_words, seals_are_here_words


@dataclass(frozen=True, kw_only=True)
class Head:
    """The last hash of a chain, and how many links there are up to it."""

    sha256: str
    count: int

    @property
    def code(self) -> str:
        """What its QR code says, in the letters that make the smallest one."""
        return f"FEELERBOOK {self.sha256.upper()} {self.count}"


def head_of_night(night: RaceNight) -> Head | None:
    """Give the head of a night's seals; nothing where nothing was sealed."""
    return head_of(night.seals.order_by("-sequence")[:1])


def head_of(seals: Iterable[Seal]) -> Head | None:
    """Give the head of a night's seals that are loaded."""
    last = max(seals, key=attrgetter("sequence"), default=None)
    return Head(sha256=last.sha256, count=last.sequence) if last else None


def head_of_audit() -> Head | None:
    """Give the head of the audit's chain; nothing where nothing was linked."""
    last = AuditLink.objects.order_by("-sequence").first()
    return Head(sha256=last.sha256, count=last.sequence) if last else None


def head_at_closing(night: RaceNight) -> Head | None:
    """Give the audit's link that a night was closed with."""
    link = night.audit_links.order_by("-sequence").first()
    return Head(sha256=link.sha256, count=link.sequence) if link else None


def look_for(head: Head) -> tuple[str, list[Difference]]:
    """
    Tell whether what was sealed up to a head is here.

    Whether each link up to it holds is what the check of all seals says.
    """
    short = head.sha256[:16]
    of = f"head {short}…"
    seal = Seal.objects.filter(sha256=head.sha256).select_related("night").first()
    link = AuditLink.objects.filter(sha256=head.sha256).first()
    if seal is not None:
        place, after = seal.sequence, Seal.objects.filter(night=seal.night)
        later = after.filter(sequence__gt=seal.sequence).count()
        night = f"{seal.night} ({seal.night.date:%Y-%m-%d})"
        are_here = seals_are_here_words(night, place, short, later)
    elif link is not None:
        place = link.sequence
        later = AuditLink.objects.filter(sequence__gt=place).count()
        are_here = links_are_here_words(place, short, later)
    else:
        says = "nothing here has this hash; what was sealed then is not what is here"
        return "", [Difference(of=of, says=says)]
    if place != head.count:
        says = f"it is link {place} here, and not {head.count}"
        return "", [Difference(of=of, says=says)]
    return are_here, []
