"""
Parts of the inventory: the words for them, their tags, and what each kind is.

`kinds` declares every kind of part once: the facts that are said of it, the sizes it
is measured by, the letter of its tags and the words by which a table knows them.
"""

from inventory.compute.stock.declarations import (
    Fact,
    FactValue,
    KindOfPart,
    Least,
    NotAFactError,
    PartFacts,
    Size,
    facts_of,
)
from inventory.compute.stock.kinds import (
    KINDS,
    PART_SCALES,
    GearFacts,
    GuideFacts,
    MotorFacts,
    TyreFacts,
    kind_of,
)
from inventory.compute.stock.tags import (
    ALPHABET,
    make_tag,
    read_tag,
    tag_in,
)
from inventory.compute.stock.words import (
    MOVES,
    Counted,
    Fixing,
    GearRole,
    Move,
    PartKind,
    PartQuantity,
    PartState,
    Section,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "PartKind",
    "PartState",
    "Move",
    "MOVES",
    "Counted",
    "GearRole",
    "Fixing",
    "Section",
    "PartQuantity",
    "KINDS",
    "KindOfPart",
    "Fact",
    "FactValue",
    "NotAFactError",
    "facts_of",
    "PartFacts",
    "TyreFacts",
    "GearFacts",
    "MotorFacts",
    "GuideFacts",
    "kind_of",
    "Size",
    "Least",
    "PART_SCALES",
    "ALPHABET",
    "make_tag",
    "read_tag",
    "tag_in",
]
