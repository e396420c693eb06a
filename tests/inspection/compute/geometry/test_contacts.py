"""
Where a car rests, against two searches that share no code with the project's.

One tries every triple in exact fractions.  The other is a linear program: of all
planes below the contacts, the ground is the one highest at the centre of gravity.
"""

import math
from collections.abc import Callable
from fractions import Fraction
from itertools import combinations
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from inspection.compute.geometry import centre_of_gravity_mm, rest_on_others
from inspection.compute.geometry.contacts import (
    ContactsInLineError,
    Footing,
    MisshapenContactsError,
    NoCentreOfGravityError,
    NotStandingError,
    OverbalancedError,
    Stance,
    TooFewContactsError,
    clearance_mm,
    rake_deg,
    rest,
    rest_as_before,
    tilt_deg,
    twist_mm,
)
from inventory.compute.arrays import Floats

Triple = tuple[int, int, int]

# Common practice, no source: wheelbase 95, rear tyre 20.4 on an axle at 8.5, front
# 18 on 7.5.  Order RL, RR, FL, FR.
LEVEL = np.array(
    [[0, 30, 8.5 - 10.2], [0, -30, 8.5 - 10.2], [95, 28, 7.5 - 9], [95, -28, 7.5 - 9]]
)
GRAVITY = np.array([38.0, 0.0])


def stand(contacts: Any, gravity: Any = GRAVITY) -> Stance:
    return rest(np.asarray(contacts, dtype=float)[None], np.asarray(gravity)[None])


def with_z(*change_mm: float) -> Floats:
    raised = LEVEL.copy()
    raised[:, 2] += change_mm
    return raised


# Worked numbers.


def test_rest_level_car_has_its_clearances_and_rake() -> None:
    """Common practice, no source: 1.70 and 1.50, rake +0.1206 degrees."""
    stance = stand(LEVEL)
    assert stance.support.tolist() == [[0, 1, 2]]
    assert stance.lift_mm.tolist() == [0.0]
    assert stance.reason.tolist() == [Footing.STANDS.code]
    corners = [[[0, 25, 0], [0, -25, 0], [95, 25, 0], [95, -25, 0]]]
    np.testing.assert_allclose(
        clearance_mm(stance, corners), [[1.70, 1.70, 1.50, 1.50]], atol=1e-5
    )
    assert rake_deg(stance)[0] == pytest.approx(0.1206, abs=5e-5)
    assert tilt_deg(stance)[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("tyre_mm", "axle_mm", "clearance"),
    # Common practice, no source: 0.50 under the chassis; 1.45 at the rear.
    [(17.6, 8.30, 0.50), (19.5, 8.30, 1.45)],
)
def test_clearance_level_car_is_half_the_tyre_less_the_axle(
    tyre_mm: float, axle_mm: float, clearance: float
) -> None:
    flat = LEVEL.copy()
    flat[:, 2] = axle_mm - tyre_mm / 2
    points = np.array([[[0, 0, 0], [0, 10, axle_mm - 8.8]]])
    under, gear = clearance_mm(stand(flat), points)[0]
    assert under == pytest.approx(clearance)
    # A gear of 17.6 on the same axle clears by half the difference of diameters.
    assert gear == pytest.approx((tyre_mm - 17.6) / 2, abs=1e-12)


def test_clearance_is_square_to_the_ground() -> None:
    """A plane at 3-4-5 to the chassis: 5 along z is 4 square to it."""
    steep = [[0, 30, 0], [0, -30, 0], [40, 0, 30]]
    stance = stand(steep, (10.0, 0.0))
    assert stance.plane[0] == pytest.approx([0.75, 0.0, 0.0])
    assert clearance_mm(stance, [[[0, 0, 5]]])[0, 0] == pytest.approx(4.0)
    assert clearance_mm(stance, [[[0, 0, -5]]])[0, 0] == pytest.approx(-4.0)
    assert rake_deg(stance)[0] == pytest.approx(math.degrees(math.atan2(3, 4)))


def test_tilt_is_positive_with_the_left_side_high() -> None:
    """Larger tyres on the left by 0.6: their contacts lie 0.3 lower in the frame."""
    tilted = np.array([[0, 30, -2.0], [0, -30, -1.7], [95, 30, -1.8], [95, -30, -1.5]])
    stance = stand(tilted)
    assert tilt_deg(stance)[0] == pytest.approx(math.degrees(math.atan(0.3 / 60)))
    left, right = clearance_mm(stance, [[[0, 25, 0], [0, -25, 0]]])[0]
    assert left > right


@pytest.mark.parametrize(
    ("change", "support", "lift"),
    [
        ((0, 0, 0, 0), [0, 1, 2], 0.0),  # all four: a tie, the first triple
        ((0, 0, 0, 0.1), [0, 1, 2], 0.1),  # front right up
        ((0, 0, 0.1, 0), [0, 1, 3], 0.1),  # front left up
        # Front right down: it carries the front, and the left comes off.
        ((0, 0, 0, -0.1), [0, 1, 3], 0.1),
        # Rear right up: the car leans on it, over to the right; the track of 56
        # sees less of it than that of 60.
        ((0, 0.1, 0, 0), [0, 1, 3], 0.1 * 56 / 60),
    ],
)
def test_rest_one_wheel_off_stands_on_the_other_three(
    change: tuple[float, ...], support: list[int], lift: float
) -> None:
    stance = stand(with_z(*change))
    assert stance.support.tolist() == [support]
    assert stance.lift_mm[0] == pytest.approx(lift, abs=1e-9)


def test_rest_weight_ahead_of_the_middle_lifts_a_rear_wheel() -> None:
    stance = stand(with_z(0, 0.1, 0, 0), (60.0, 0.0))
    assert stance.support.tolist() == [[0, 2, 3]]
    assert stance.lift_mm[0] == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("gravity", "support"),
    [
        ((0.0, 10.0), [0, 1, 2]),  # on the rear axle's own line
        ((95.0, 0.0), [0, 2, 3]),  # on the front's
        ((-0.9e-9, 0.0), [0, 1, 2]),  # 1e-9 outside is rounding
    ],
)
def test_rest_centre_of_gravity_on_an_edge_counts_inside(
    gravity: tuple[float, float], support: list[int]
) -> None:
    square = LEVEL.copy()
    square[:, 2] = -1.5
    assert stand(square, gravity).support.tolist() == [support]


def test_rest_contact_barely_below_the_plane_is_on_it() -> None:
    assert stand(with_z(0, 0, 0, -0.9e-9)).support.tolist() == [[0, 1, 2]]
    assert stand(with_z(0, 0, 0, -1.1e-9)).support.tolist() == [[0, 1, 3]]


def test_rest_on_the_guide_floats_the_front_wheels() -> None:
    guide = [[0, 30, -1.7], [0, -30, -1.7], [110, 0, -1.2]]
    stance = stand(guide)
    assert stance.support.tolist() == [[0, 1, 2]]
    assert stance.lift_mm.tolist() == [0.0]
    wheels = clearance_mm(stance, [LEVEL[2:]])
    assert (wheels > -0.3).all()
    assert rake_deg(stance)[0] == pytest.approx(math.degrees(math.atan(0.5 / 110)))


def test_twist_is_signed_and_linear() -> None:
    for off in (-0.2, 0.0, 0.1):
        assert twist_mm([with_z(0, 0, 0, off)])[0] == pytest.approx(off, abs=1e-12)
    # A rear wheel 0.1 up tips the plane of the other three: over the track of 60
    # against 56, less at the front.
    assert twist_mm([with_z(0, 0.1, 0, 0)])[0] == pytest.approx(-0.1 * 56 / 60)


def test_twist_absent_contact_gives_nan() -> None:
    assert np.isnan(twist_mm([with_z(0, 0, np.nan, 0)]))[0]


def test_centre_of_gravity_is_two_fifths_of_the_wheelbase_ahead() -> None:
    assert centre_of_gravity_mm(95.0).tolist() == [38.0, 0.0]


# Other searches.


class Resting(NamedTuple):
    support: Triple
    plane: tuple[Fraction, Fraction, Fraction]
    lift: Fraction


def exact(number: int) -> Fraction:
    return Fraction(number, 100)


def searched(contacts: list[list[int]], gravity: list[int]) -> Resting | None:
    """Try every triple in exact fractions of a hundredth; the first that holds."""
    for triple in combinations(range(len(contacts)), 3):
        (x0, y0, z0), (x1, y1, z1), (x2, y2, z2) = (
            [exact(part) for part in contacts[corner]] for corner in triple
        )
        area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        if area == 0:
            continue
        a = ((z1 - z0) * (y2 - y0) - (z2 - z0) * (y1 - y0)) / area
        b = ((x1 - x0) * (z2 - z0) - (x2 - x0) * (z1 - z0)) / area
        c = z0 - a * x0 - b * y0
        x, y = exact(gravity[0]), exact(gravity[1])
        second = ((x - x0) * (y2 - y0) - (x2 - x0) * (y - y0)) / area
        third = ((x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)) / area
        heights = [
            exact(p[2]) - a * exact(p[0]) - b * exact(p[1]) - c for p in contacts
        ]
        shares = (1 - second - third, second, third)
        if min(heights) >= 0 and min(shares) >= 0:
            first, middle, last = triple
            return Resting((first, middle, last), (a, b, c), max(heights))
    return None


def on_wheels(generator: np.random.Generator) -> list[list[int]]:
    """Four wheels in whole hundredths; a third of the cars exactly level."""
    rear, front = (int(half) for half in generator.integers(2000, 3500, 2))
    left, right = (int(x) for x in generator.integers(8000, 11000, 2))
    z = [int(part) for part in generator.integers(-220, -80, 4)]
    if generator.random() < 1 / 3:
        z = [z[0], z[0], z[2], z[2]]
        right = left
    places = [(0, rear), (0, -rear), (left, front), (right, -front)]
    return [[x, y, height] for (x, y), height in zip(places, z, strict=True)]


def on_guide(generator: np.random.Generator) -> list[list[int]]:
    flange = [
        int(part) for part in generator.integers((9000, -20, -200), (12000, 21, -80))
    ]
    return [*on_wheels(generator)[:2], flange]


def field_of(
    carried: Callable[[np.random.Generator], list[list[int]]], seed: int, cars: int
) -> tuple[list[list[list[int]]], list[list[int]]]:
    generator = np.random.default_rng(seed)
    contacts = [carried(generator) for _ in range(cars)]
    # Now and then on the axle's line, and now and then behind it.
    ahead = generator.integers(-1500, 9500, cars)
    ahead[::10] = 0
    aside = generator.integers(-1500, 1501, cars)
    aside[::3] = 0
    return contacts, np.column_stack((ahead, aside)).tolist()


@pytest.mark.parametrize(("carried", "seed"), [(on_wheels, 24), (on_guide, 25)])
def test_rest_agrees_with_a_search_of_every_triple(
    carried: Callable[[np.random.Generator], list[list[int]]], seed: int
) -> None:
    contacts, gravity = field_of(carried, seed, cars=500)
    found = rest(np.array(contacts) / 100, np.array(gravity) / 100)
    expected = [searched(*car) for car in zip(contacts, gravity, strict=True)]
    assert 20 < expected.count(None) < 300
    for car, resting in enumerate(expected):
        if resting is None:
            assert found.support[car].tolist() == [-1, -1, -1]
            assert np.isnan(found.plane[car]).all()
            assert math.isnan(found.lift_mm[car])
            assert found.reason[car] == Footing.OVERBALANCED.code
            continue
        assert tuple(found.support[car]) == resting.support
        assert found.reason[car] == Footing.STANDS.code
        plane = [float(part) for part in resting.plane]
        np.testing.assert_allclose(found.plane[car], plane, rtol=1e-9, atol=1e-12)
        assert found.lift_mm[car] == pytest.approx(float(resting.lift), abs=1e-9)


def test_rest_ground_is_the_highest_plane_below_the_contacts() -> None:
    """The car comes down until it cannot: least potential energy, as a program."""
    contacts, gravity = field_of(on_wheels, 26, cars=60)
    points, centres = np.array(contacts) / 100, np.array(gravity) / 100
    found = rest(points, centres)
    for car in np.flatnonzero(found.reason == Footing.STANDS.code):
        here = np.append(centres[car], 1.0)
        rows = np.column_stack((points[car, :, :2], np.ones(4)))
        program: Any = linprog(
            -here, A_ub=rows, b_ub=points[car, :, 2], bounds=(None, None)
        )
        assert program.success
        assert found.plane[car] @ here == pytest.approx(-program.fun, abs=1e-7)
        assert (rows @ found.plane[car] <= points[car, :, 2] + 1e-9).all()


# Laws.

heights = st.lists(st.integers(-200, 200), min_size=4, max_size=4)


@settings(max_examples=100, deadline=None)
@given(heights, st.floats(-5.0, 5.0))
def test_rest_raising_all_contacts_raises_the_ground(
    hundredths: list[int], up: float
) -> None:
    contacts = with_z(*(h / 1000 for h in hundredths))
    lower, higher = stand(contacts), stand(contacts + np.array([0, 0, up]))
    assert lower.support.tolist() == higher.support.tolist()
    np.testing.assert_allclose(higher.plane - lower.plane, [[0, 0, up]], atol=1e-9)


@settings(max_examples=100, deadline=None)
@given(heights)
def test_rest_mirrored_car_is_the_same_car_mirrored(hundredths: list[int]) -> None:
    contacts = with_z(*(h / 1000 for h in hundredths))
    mirrored = contacts[[1, 0, 3, 2]] * [1, -1, 1]
    one, other = stand(contacts), stand(mirrored)
    np.testing.assert_allclose(one.lift_mm, other.lift_mm, atol=1e-9)
    points = np.array([[[0.0, 25.0, 0.0], [95.0, -20.0, 0.5]]])
    np.testing.assert_allclose(
        clearance_mm(one, points), clearance_mm(other, points * [1, -1, 1]), atol=1e-9
    )
    np.testing.assert_allclose(rake_deg(one), rake_deg(other), atol=1e-9)
    np.testing.assert_allclose(tilt_deg(one), -tilt_deg(other), atol=1e-9)


# The same support.


def test_rest_as_before_keeps_the_support_when_another_wheel_would_carry() -> None:
    before = stand(LEVEL)
    moved = with_z(0, 0, 0, -0.001)
    assert stand(moved).support.tolist() == [[0, 1, 3]]
    same = rest_as_before(before, moved[None])
    assert same.support.tolist() == [[0, 1, 2]]
    np.testing.assert_allclose(same.plane, before.plane, atol=1e-15)
    assert same.lift_mm.tolist() == [0.0]


def test_rest_as_before_keeps_the_reason_of_a_car_that_does_not_stand() -> None:
    cars = np.stack((LEVEL, LEVEL))
    before = rest(cars, [[38, 0], [-5, 0]])
    same = rest_as_before(before, cars)
    assert same.reason.tolist() == [Footing.STANDS.code, Footing.OVERBALANCED.code]
    np.testing.assert_array_equal(same.plane, before.plane)


# Absent contacts and cars that do not stand.


def test_rest_absent_wheel_is_left_out() -> None:
    stance = stand(with_z(0, 0, np.nan, 0))
    assert stance.support.tolist() == [[0, 1, 3]]
    assert stance.lift_mm.tolist() == [0.0]


IN_LINE = np.array([[0, 30, -1.7], [0, -30, -1.7], [0, 0, -1.7]])
REFUSED = [
    (with_z(0, np.nan, np.nan, 0)[:3], GRAVITY, TooFewContactsError),
    (IN_LINE, GRAVITY, ContactsInLineError),
    (LEVEL[:3], (np.nan, 0.0), NoCentreOfGravityError),
    (LEVEL[:3], (-1.0, 0.0), OverbalancedError),
]


@pytest.mark.parametrize(("contacts", "gravity", "refusal"), REFUSED)
def test_rest_one_car_that_cannot_stand_raises(
    contacts: Floats, gravity: Any, refusal: type[NotStandingError]
) -> None:
    with pytest.raises(refusal) as refused:
        stand(contacts, gravity)
    assert refused.value.code in {footing.replace(" ", "_") for footing in Footing}
    assert str(refused.value).endswith(".")


def test_rest_field_gives_each_car_its_reason() -> None:
    contacts = np.stack([LEVEL[:3], *(contacts for contacts, _, _ in REFUSED)])
    gravity = np.stack([GRAVITY, *(np.asarray(place) for _, place, _ in REFUSED)])
    found = rest(contacts, gravity)
    assert found.reason.dtype == np.int8
    words = tuple(Footing)
    assert [str(words[code]) for code in found.reason] == [
        "stands",
        "too few contacts",
        "contacts in line",
        "no centre of gravity",
        "overbalanced",
    ]
    for column in (found.plane[1:], found.lift_mm[1:]):
        assert np.isnan(column).all()
    assert (found.support[1:] == -1).all()
    assert np.isnan(clearance_mm(found, np.zeros((5, 2, 3)))[1:]).all()


def test_rest_field_of_one_wheel_each_gives_the_reason_to_all() -> None:
    contacts = np.full((2, 4, 3), np.nan)
    contacts[:, 0] = 0.0
    found = rest(contacts, [[38, 0], [38, 0]])
    assert found.reason.tolist() == [Footing.TOO_FEW_CONTACTS.code] * 2


@pytest.mark.parametrize(
    "refused",
    [
        lambda: rest(LEVEL, GRAVITY),
        lambda: rest(LEVEL[None, :2], GRAVITY[None]),
        lambda: rest(LEVEL[None, :, :2], GRAVITY[None]),
        lambda: rest(LEVEL[None], GRAVITY),
        lambda: rest_as_before(stand(LEVEL), np.stack((LEVEL, LEVEL))),
        lambda: twist_mm(LEVEL[None, :3]),
        lambda: clearance_mm(stand(LEVEL), [[0, 0, 0]]),
        lambda: clearance_mm(stand(LEVEL), [[[0, 0]]]),
        lambda: clearance_mm(stand(LEVEL), np.zeros((2, 1, 3))),
    ],
)
def test_arrays_of_another_shape_are_refused(refused: Callable[[], object]) -> None:
    with pytest.raises(MisshapenContactsError) as refusal:
        refused()
    assert refusal.value.code == "misshapen_contacts"


def test_a_car_on_three_feet_has_no_others_to_stand_on() -> None:
    three = [[[0.0, 30.0, -1.7], [0.0, -30.0, -1.7], [95.0, 0.0, -1.5]]]
    gravity = [[38.0, 0.0]]
    stance = rest(three, gravity)
    assert rest_on_others(stance, three, gravity) is stance
