"""What is told of batches and pairs."""

from typing import Any

from rest_framework import serializers

from inventory.api.foundation.rows import Who
from inventory.api.foundation.shapes import Figure, Gives, Millionths, Said, Word
from inventory.compute.batches import BatchSource, DraftState
from inventory.compute.stock import PartKind


class BatchLine(Gives):
    id = serializers.IntegerField(source="pk")
    name = Said()
    kind = Word(PartKind)
    source = Word(BatchSource)  # type: ignore[assignment]
    made_at = serializers.DateTimeField()
    by = Who()
    part_count = serializers.IntegerField()
    loose_count = serializers.IntegerField()


class TyreOfBag(Gives):
    tag = Said()
    diameter_mm = Figure()


class PairFound(Gives):
    tyres = TyreOfBag(many=True)
    difference_mm = Figure()
    chance = Figure(help_text="That they are within the tolerance, as far as known.")


class PairsFound(Gives):
    """Pairs that were found, and who found none."""

    seen = Said(help_text="To be said again where these are confirmed.")
    pairs = PairFound(many=True)
    left_over = TyreOfBag(many=True)
    rejected = TyreOfBag(many=True)
    unmeasured = TyreOfBag(many=True)
    more_pairs = serializers.IntegerField(
        help_text="No choice has more than so many pairs more: 0, proven the most."
    )
    dearer_by = Figure(
        help_text="Of as many pairs none is better in all by more than this: "
        "micrometres of departure, or weighted tolerances; 0, proven the best."
    )


class PairingShown(Gives):
    id = serializers.IntegerField(source="pk")
    batch = serializers.IntegerField(source="batch_id", allow_null=True)
    made_at = serializers.DateTimeField()
    undone_at = serializers.DateTimeField(allow_null=True)
    by = Who()
    tags = serializers.SerializerMethodField(help_text="Of its pairs.")

    def get_tags(self, pairing: Any) -> list[str]:
        return [one.tag for one in pairing.sets.all()]


class PairLine(Gives):
    """A pair or set in stock."""

    tag = Said(source="part_set.tag")
    kind = Word(PartKind, source="part_set.kind")
    drawer = Said(source="part_set.drawer")
    difference_then = Millionths(source="part_set.spread")
    parts = serializers.SerializerMethodField()
    sizes = serializers.ListField(child=Figure())

    def get_parts(self, one: Any) -> list[str]:
        return [part.tag for part in one.parts]


class DraftShown(Gives):
    """A file on its way in: nothing of it is stock yet."""

    id = serializers.IntegerField(source="draft.pk")
    state = Word(DraftState, source="draft.state")
    kind = Said(source="draft.kind")
    refusal = Said(source="draft.refusal", help_text="Why it could not be read.")
    rows = serializers.IntegerField(source="draft.rows_in_all")
    counts = serializers.DictField(child=serializers.IntegerField())
    wrong_rows = serializers.IntegerField()
    may_be_taken = serializers.BooleanField()
    faults = serializers.SerializerMethodField(help_text="The first hundred.")

    def get_faults(self, shown: Any) -> list[str]:
        return [one.sentence for one in shown["faults"]]


class BatchTaken(Gives):
    id = serializers.IntegerField(source="pk")
    name = Said()
    kind = Word(PartKind)
