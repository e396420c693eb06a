"""
Pitches: which one an unmarked gear may have.

Millimetres in, names and probabilities out.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from inventory.compute.gears.spurs import (
    INCH_MM,
    LONGEST_MM,
    NotALengthError,
    checked_length,
    checked_teeth,
)

#: How far a cutter's outside diameter strays; common practice, no source.
CUTTING_ALLOWANCE_MM: Final = 0.03
#: A miss wider than so many standard deviations is no standard pitch.
WIDEST_MISS: Final = 3.0
NO_STANDARD_PITCH: Final = "no standard pitch"


@dataclass(frozen=True, kw_only=True)
class Pitch:
    """A pitch that gears are sold in."""

    name: str
    module_mm: float


@dataclass(frozen=True, kw_only=True)
class PitchCandidate:
    """A pitch that an unmarked gear may have, and how likely it is."""

    name: str
    module_mm: float
    outside_diameter_mm: float
    probability: float


#: What small gears are cut to; common practice, no source.
PITCHES: Final = (
    *(
        Pitch(name=f"module {text}", module_mm=float(text))
        for text in ("0.3", "0.35", "0.4", "0.5", "0.6", "0.8", "1.0")
    ),
    *(
        Pitch(name=f"{per_inch} pitch", module_mm=INCH_MM / per_inch)
        for per_inch in (32, 48, 64, 72, 80, 96)
    ),
)


def identify_pitch(
    teeth: int, *, outside_diameter_mm: float, u_mm: float
) -> tuple[PitchCandidate, ...]:
    """
    Say which pitch an unmarked spur gear or pinion may have.

    Never for a crown, whose outside diameter says nothing of its teeth.  The
    reading's uncertainty and a cutting allowance of 0.03 mm make the width of a
    normal likelihood; all pitches are equally likely beforehand.

    Parameters
    ----------
    teeth : int
        Teeth.
    outside_diameter_mm : float
        True outside diameter, mm, from `true_outside_diameter_mm`.
    u_mm : float
        Its standard uncertainty, mm.

    Returns
    -------
    tuple of PitchCandidate
        Most likely first; the probabilities sum to 1.  When the nearest misses
        by more than three standard deviations the first is `no standard pitch`
        with the effective module, and the rest share the chance of so wide a
        miss.

    Raises
    ------
    TeethError
        If the count of teeth is not a gear's.
    NotALengthError
        If the diameter is not positive or the uncertainty negative.

    Examples
    --------
    >>> identify_pitch(9, outside_diameter_mm=4.37, u_mm=0.0115)[0].name
    '64 pitch'
    """
    count = float(checked_teeth(teeth)) + 2.0
    diameter = float(checked_length(outside_diameter_mm, "Outside diameter"))
    if not 0.0 <= u_mm <= LONGEST_MM:
        msg = f"Uncertainty {u_mm:g} mm: not negative was expected."
        raise NotALengthError(msg)
    modules = np.array([pitch.module_mm for pitch in PITCHES])
    miss = (diameter - modules * count) / math.hypot(u_mm, CUTTING_ALLOWANCE_MM)
    nearest = float(abs(miss).min())
    # Relative to the nearest, so that a wide miss of all does not underflow.
    likelihood = np.exp((nearest**2 - miss**2) / 2.0)
    chance = math.erfc(nearest / math.sqrt(2.0)) if nearest > WIDEST_MISS else 1.0
    probability = chance * likelihood / likelihood.sum()
    candidates = [
        PitchCandidate(
            name=pitch.name,
            module_mm=pitch.module_mm,
            outside_diameter_mm=pitch.module_mm * count,
            probability=float(share),
        )
        for pitch, share in zip(PITCHES, probability, strict=True)
    ]
    if nearest > WIDEST_MISS:
        none = PitchCandidate(
            name=NO_STANDARD_PITCH,
            module_mm=diameter / count,
            outside_diameter_mm=diameter,
            probability=1.0 - chance,
        )
        candidates.append(none)
    return tuple(sorted(candidates, key=lambda candidate: -candidate.probability))
