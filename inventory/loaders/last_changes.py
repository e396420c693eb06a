"""Who has changed something last, as the audit tells it."""

from inventory.models import AuditRow


def last_change(of: object) -> AuditRow | None:
    """Give the last thing that somebody did to it; None where nobody did yet."""
    rows = AuditRow.objects.filter(subject=str(of)[:120], actor__isnull=False)
    return rows.select_related("actor").order_by("-id").first()
