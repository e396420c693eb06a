"""The matching of a graph of parts that may pair: most pairs, least cost, proven."""

from inventory.compute.pairing.matching.crowds import (
    Matched,
    match_windows,
)
from inventory.compute.pairing.matching.graph_matching import (
    match_links,
)
from inventory.compute.pairing.matching.links import (
    Links,
    TooManyLinksError,
    link_windows,
)
from inventory.compute.pairing.matching.windows import (
    Windows,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "match_links",
    "match_windows",
    "Matched",
    "Windows",
    "Links",
    "link_windows",
    "TooManyLinksError",
]
