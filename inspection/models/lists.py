"""Lists on their way in, by which a club moves in."""

from typing import ClassVar

from django.db import models

from inspection.compute.lists import ListKind
from inspection.models.rulebooks import PERSON
from inventory.models.words import one_of, word_field


class ListDraft(models.Model):
    """
    A list that was read: nothing of it is the club's yet.

    ``table`` are its cells (packed JSON), ``columns`` what each is by name, empty
    where it is not used.  ``good_count``, ``here`` and ``faults`` say what taking its
    rows came to when that was tried: how many would come in, which are here already,
    and which are wrong, by their number in the file.  The row is deleted when the
    list is taken or dropped.
    """

    kind = word_field(ListKind, max_length=10)
    file_name = models.CharField(max_length=120, blank=True)
    table = models.BinaryField()
    columns = models.JSONField(default=list)
    first_row = models.PositiveIntegerField(default=0)
    good_count = models.PositiveIntegerField(default=0)
    here = models.JSONField(default=list)
    faults = models.JSONField(default=list)
    by = models.ForeignKey(PERSON, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [one_of("kind", ListKind, name="list_kind_is_known")]

    def __str__(self) -> str:
        return self.file_name or f"list of {self.kind}"
