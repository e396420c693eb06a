"""The jig: what to set under a chassis before soldering, what to check after."""

from inspection.compute.jig.set_up import (
    JigSetUp,
    JigSheet,
    jig_sheet,
    spacer_mm,
)
from inspection.compute.jig.shims import (
    ShimStack,
    choose_shims,
)
from inspection.compute.jig.soldering import (
    BuildCheck,
    BuildRow,
    SolderedChassis,
    after_soldering,
)

# In reading order.
__all__ = [  # noqa: RUF022
    "JigSetUp",
    "JigSheet",
    "spacer_mm",
    "jig_sheet",
    "ShimStack",
    "choose_shims",
    "BuildCheck",
    "BuildRow",
    "SolderedChassis",
    "after_soldering",
]
