"""Involute gears outlined point by point, a second way to every figure of a gear."""

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

ALPHA = np.radians(20.0)


def involute(angle: NDArray[np.float64] | float) -> NDArray[np.float64]:
    return np.asarray(np.tan(angle) - angle, dtype=np.float64)


def half_angle(
    radius: NDArray[np.float64], *, teeth: int, module: float, shift: float
) -> NDArray[np.float64]:
    """Half the angle of a tooth at radii, from its thickness at the pitch circle."""
    pitch = module * teeth / 2
    thickness = module * (np.pi / 2 + 2 * shift * np.tan(ALPHA))
    at = np.arccos(np.clip(pitch * np.cos(ALPHA) / radius, -1, 1))
    half: NDArray[np.float64] = thickness / (2 * pitch) + involute(ALPHA) - involute(at)
    return half


def tip_points(*, teeth: int, module: float, shift: float = 0.0) -> Points:
    """Points of every tooth's tip land, corners included, as complex numbers."""
    tip = module * (teeth / 2 + 1 + shift)
    land = half_angle(np.array([tip]), teeth=teeth, module=module, shift=shift)[0]
    across = np.linspace(-land, land, 41)
    angles = 2 * np.pi * np.arange(teeth)[:, None] / teeth + across
    return (tip * np.exp(1j * angles)).ravel()  # type: ignore[no-any-return]


def widths(points: Points, *, teeth: int, steps: int = 4001) -> NDArray[np.float64]:
    """Give what flat jaws read as the gear turns between them, over one tooth."""
    turned = points * np.exp(1j * np.linspace(0, np.pi / teeth, steps))[:, None]
    return np.ptp(turned.real, axis=1)  # type: ignore[no-any-return]


def backlash_of_contact(
    *, teeth: tuple[int, int], shifts: tuple[float, float], distance: float
) -> float:
    """
    Turn one gear in the gap of the other until the outlines touch; module 1.

    On the working pitch circle, there and back.
    """
    z1, z2 = teeth
    x1, x2 = shifts
    base1 = z1 / 2 * np.cos(ALPHA)
    base2, tip2 = z2 / 2 * np.cos(ALPHA), z2 / 2 + 1 + x2
    radius = np.linspace(base2 + 1e-9, tip2, 200_001)
    flank = half_angle(radius, teeth=z2, module=1.0, shift=x2)

    def clear(turn: float) -> float:
        point = distance - radius * np.exp(-1j * (flank + turn))
        reach, angle = np.abs(point), np.angle(point)
        met = (reach > base1) & (reach < z1 / 2 + 1 + x1)
        half = half_angle(reach[met], teeth=z1, module=1.0, shift=x1)
        return float((np.pi / z1 - half - angle[met]).min())

    low, high = -0.2, 0.2
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if clear(middle) > 0 else (low, middle)
    return float(2 * low * distance * z2 / (z1 + z2))


def generated_start(
    *, teeth: int, corner: float, shift: float = 0.0, depth: float = 1.25
) -> float:
    """
    Where the involute begins of a tooth that a rack cut; module 1.

    Every point of the rack's outline is rolled along, and at each radius the one
    that cuts deepest is taken.  Distance along the line of action.
    """
    pitch = teeth / 2
    base = pitch * np.cos(ALPHA)
    middle = depth - shift - corner
    aside = middle * np.tan(ALPHA) + corner / np.cos(ALPHA)
    turn = np.linspace(np.pi / 2, np.pi - ALPHA, 40_001)
    round_x = aside + corner * np.cos(turn)
    round_y = middle + corner * np.sin(turn)
    flank_y = np.linspace(-1.0, round_y[-1], 40_001)
    outline_x = np.concatenate([round_x, flank_y * np.tan(ALPHA)])
    outline_y = np.concatenate([round_y, flank_y])
    # From the base circle outwards, the involute by its distance along the line.
    for start in np.linspace(0.001, 3.0, 3000):
        reach = float(np.hypot(base, start))
        inside = reach**2 - (pitch - outline_y) ** 2
        met = inside >= 0
        across = np.sqrt(inside[met])
        cut = np.inf
        for side in (-across, across):
            rolled = side - outline_x[met]
            angle = np.arctan2(side, pitch - outline_y[met]) - rolled / pitch
            cut = min(cut, float(angle.min()))
        flank = float(involute(ALPHA) - involute(np.arccos(base / reach)))
        # Above the involute the corner left more, below it took some away.
        if abs(cut - flank) < 4e-9:
            return float(start)
    return float("inf")
