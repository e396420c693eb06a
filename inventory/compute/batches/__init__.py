"""A batch of parts as it comes in: its rows, their estimates, a bag to pair."""

from inventory.compute.batches.estimates import (
    BatchEstimate,
    estimates_of_batch,
)
from inventory.compute.batches.loose_bags import (
    bag_of_rows,
)
from inventory.compute.batches.rows import (
    BatchReading,
    BatchRow,
    RowFault,
)
from inventory.compute.batches.words import (
    BatchSource,
    DraftState,
    SetEnd,
)
from inventory.compute.batches.worked_out import (
    is_worked_out,
    worked_out_word,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "BatchEstimate",
    "estimates_of_batch",
    "BatchReading",
    "BatchRow",
    "RowFault",
    "BatchSource",
    "DraftState",
    "SetEnd",
    "bag_of_rows",
    "worked_out_word",
    "is_worked_out",
]
