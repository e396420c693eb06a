"""What is said of a protest."""

from inspection.compute.night import ProtestRuling
from inventory.api.foundation.shapes import Key, Takes, Text, Word


class ProtestSaid(Takes):
    rule = Key(help_text="The rule that the car is said to break.")
    claim = Text(max_length=300)


class ClaimSaid(Takes):
    claim = Text(max_length=300)


class HearerSaid(Takes):
    person = Key()


class ProtestRulingSaid(Takes):
    ruling = Word(ProtestRuling)
    reason = Text(max_length=300)
