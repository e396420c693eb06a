"""Spur gears against the handbooks, the stored oracle and plain geometry.

C5-… are the rows of the project's list of check values.  Handbook A is the
worked table of profile-shifted gears at bolsover.com, B the Elements of Metric
Gear Technology, C page 388 of the gear handbook (equations 14-2, 14-3).
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.gears.meshes import (
    MeshState,
    NotALengthError,
    NotAPitchError,
    TeethError,
    UnlikeTeethError,
    centre_distance_for_backlash,
    mesh,
    rollout_mm,
    span_mm,
    spur,
    teeth_for_centre_distance,
)
from inventory.compute.gears.tips import true_outside_diameter_mm

DATA = Path(__file__).parents[3] / "references" / "data"


def rows_of(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def involute(angle_deg: float) -> float:
    return math.tan(math.radians(angle_deg)) - math.radians(angle_deg)


def worked_values() -> dict[tuple[str, str, str], float]:
    """Compute each figure of gear_worked_examples.csv."""
    values: dict[tuple[str, str, str], float] = {}
    block = "standard m3 20deg 12/24"
    for z in (12, 24):
        gear = spur(z, module_mm=3.0)
        values[block, f"z={z}", "d"] = gear.pitch_diameter_mm
        values[block, f"z={z}", "db"] = gear.base_diameter_mm
        values[block, f"z={z}", "da"] = gear.tip_diameter_mm
        values[block, f"z={z}", "df"] = gear.root_diameter_mm
    pair = mesh(spur(12, module_mm=3.0), spur(24, module_mm=3.0))
    values[block, "pair", "a"] = pair.standard_centre_distance_mm

    gears = {
        12: spur(12, module_mm=3.0, shift=0.6),
        24: spur(24, module_mm=3.0, shift=0.36),
    }
    for block, distance in (
        ("profile shifted m3 20deg 12/24, a=56.5 given", 56.5),
        ("profile shifted m3 20deg 12/24, x1=.6 x2=.36 given (computed)", None),
    ):
        pair = mesh(gears[12], gears[24], centre_distance_mm=distance)
        working = pair.working_pressure_angle_deg
        tips = {12: pair.pinion_tip_diameter_mm, 24: pair.gear_tip_diameter_mm}
        away = pair.centre_distance_mm - pair.standard_centre_distance_mm
        values[block, "pair", "inv(alpha)"] = involute(20.0)
        values[block, "pair", "inv(alpha_w)"] = involute(working)
        values[block, "pair", "alpha_w_deg"] = working
        values[block, "pair", "a"] = pair.centre_distance_mm
        values[block, "pair", "y"] = away / 3.0
        values[block, "pair", "contact_ratio"] = pair.contact_ratio
        for z, gear in gears.items():
            item = f"z={z}"
            rolling = gear.base_diameter_mm / math.cos(math.radians(working))
            values[block, item, "d_w"] = rolling
            values[block, item, "h_a"] = (tips[z] - gear.pitch_diameter_mm) / 2
            values[block, item, "h_f"] = (
                gear.pitch_diameter_mm - gear.root_diameter_mm
            ) / 2
            values[block, item, "d_a"] = tips[z]
            values[block, item, "d_f"] = gear.root_diameter_mm
        depth = (tips[12] - gears[12].root_diameter_mm) / 2
        values[block, "pair", "h"] = depth

    block = "teeth from centre distance m3 a54 i0.8"
    # The handbook's i is pinion over gear.
    teeth = teeth_for_centre_distance(54.0, module_mm=3.0, ratio=1 / 0.8)
    values[block, "", "z1+z2"] = teeth.pinion_teeth + teeth.gear_teeth
    values[block, "", "z1"] = teeth.pinion_teeth
    values[block, "", "z2"] = teeth.gear_teeth

    for item, m, z, k, x in (
        ("m2 z20 k3 x0", 2.0, 20, 3, 0.0),
        ("m3 z24 k4 x+0.4", 3.0, 24, 4, 0.4),
        ("m1 z20 k3 x0", 1.0, 20, 3, 0.0),
        ("m0.5 z27 k4 x0", 0.5, 27, 4, 0.0),
    ):
        gear = spur(z, module_mm=m, shift=x)
        values["span", item, "W"] = span_mm(gear, spanned_count=k)
    return values


def test_worked_examples_c5_10_to_c5_16_and_c5_20_agree_to_the_printed_digit() -> None:
    ours = worked_values()
    used = set()
    for row in rows_of("gear_worked_examples.csv"):
        key = (row["block"], row["item"].strip(), row["quantity"])
        if key[0].startswith("chordal"):
            continue  # a tooth caliper's figures: nothing here measures chords
        decimals = len(row["value"].partition(".")[2])
        assert ours[key] == pytest.approx(
            float(row["value"]), abs=0.51 * 10.0**-decimals
        ), key
        used.add(key)
    assert len(used) == 41


@pytest.mark.parametrize(
    "row", rows_of("gear_library_oracle.csv"), ids=lambda r: r["case"]
)
def test_sizes_agree_with_the_stored_library_table(row: dict[str, str]) -> None:
    m, coefficient = float(row["module"]), float(row["dedendum_coeff"])
    figures = []
    for n in "12":
        gear = spur(
            int(row[f"z{n}"]),
            module_mm=m,
            shift=float(row[f"x{n}"]),
            # 1.200/P + 0.002 in (C5-05) is 1.296 m at 48 and 1.328 m at 64 pitch.
            fine_inch=coefficient > 1.25,
        )
        figures.append(gear)
        # The table has six decimals, its module seven.
        assert gear.pitch_diameter_mm == pytest.approx(float(row[f"d{n}"]), abs=2e-6)
        assert gear.base_diameter_mm == pytest.approx(float(row[f"db{n}"]), abs=2e-6)
        assert gear.tip_diameter_mm == pytest.approx(float(row[f"da{n}"]), abs=2e-6)
        assert gear.root_diameter_mm == pytest.approx(float(row[f"df{n}"]), abs=2e-6)
    pair = mesh(figures[0], figures[1])
    assert pair.centre_distance_mm == pytest.approx(
        float(row["centre_distance"]), abs=2e-6
    )


@pytest.mark.parametrize(
    "row", rows_of("gear_library_oracle.csv"), ids=lambda r: r["case"]
)
def test_contact_ratio_agrees_with_the_library_but_for_the_known_reasons(
    row: dict[str, str],
) -> None:
    m, z1, z2 = float(row["module"]), int(row["z1"]), int(row["z2"])
    shifts = float(row["x1"]), float(row["x2"])
    ours = mesh(
        spur(z1, module_mm=m, shift=shifts[0]), spur(z2, module_mm=m, shift=shifts[1])
    )
    theirs = float(row["contact_ratio"])
    if any(shifts):
        # The library leaves the tips of shifted gears long: give it ours back.
        base_pitch = math.pi * m * math.cos(math.radians(20))
        for tip, base, cut in (
            (float(row["da1"]), float(row["db1"]), ours.pinion_tip_diameter_mm),
            (float(row["da2"]), float(row["db2"]), ours.gear_tip_diameter_mm),
        ):
            long, short = (math.sqrt(t**2 - base**2) / 2 for t in (tip, cut))
            theirs -= (long - short) / base_pitch
    # C5-24: below 17.1 teeth a 20 degree pinion is undercut.  The library stops at
    # its base circle; what a rack leaves is less (C5-23: 0.13 to 0.28 of 7 to 12).
    undercut = min(z1, z2) < 17 and not any(shifts)
    if undercut:
        assert 0.0 < theirs - ours.contact_ratio < 0.3
    else:
        assert ours.contact_ratio == pytest.approx(theirs, abs=1e-4)
    assert ours.enlarged_contact_ratio >= ours.contact_ratio


def test_contact_ratio_c5_22() -> None:
    # C5-22: closed form 1.6351860, library 1.6351880.
    pair = mesh(spur(20, module_mm=1.0), spur(40, module_mm=1.0))
    assert pair.contact_ratio == pytest.approx(1.6351860, abs=1e-7)


def backlash_per_mm(angle_deg: float) -> float:
    """Slope of the backlash at the tight distance."""
    gears = [spur(z, module_mm=3.0, pressure_angle_deg=angle_deg) for z in (24, 36)]
    tight = mesh(*gears).tight_centre_distance_mm
    return mesh(*gears, centre_distance_mm=tight + 1e-4).backlash_mm / 1e-4


def test_backlash_of_a_small_move_c5_26_to_c5_28() -> None:
    # C, eq. 14-3a…c: 2 da tan(alpha); 1.933 and 1.374 mm of distance a mm of
    # backlash at 14.5 and 20 degrees; 41 % more backlash at 20.  Printed digits.
    at_14, at_20 = backlash_per_mm(14.5), backlash_per_mm(20.0)
    assert at_20 == pytest.approx(2 * math.tan(math.radians(20)), rel=1e-4)
    assert 1 / at_14 == pytest.approx(1.933, abs=5e-4)
    assert 1 / at_20 == pytest.approx(1.374, abs=5e-4)
    assert at_20 / at_14 - 1 == pytest.approx(0.41, abs=5e-3)


@pytest.mark.parametrize(
    ("module", "z1", "z2", "normal"),
    [(3.0, 12, 24, 0.0343212), (0.5, 9, 27, 0.0349056)],  # C5-29, C5-30
)
def test_exact_backlash_c5_29_and_c5_30(
    module: float, z1: int, z2: int, normal: float
) -> None:
    gears = spur(z1, module_mm=module), spur(z2, module_mm=module)
    tight = mesh(*gears).standard_centre_distance_mm
    pair = mesh(*gears, centre_distance_mm=tight + 0.05)
    # Normal backlash is the transverse one times the cosine of the working angle.
    cosine = math.cos(math.radians(pair.working_pressure_angle_deg))
    assert pair.backlash_mm * cosine == pytest.approx(normal, abs=6e-8)


def test_mesh_at_the_tight_distance_is_good_without_backlash() -> None:
    gears = spur(9, module_mm=0.5), spur(27, module_mm=0.5)
    for distance in (None, 9.0, 9.0000001):
        pair = mesh(*gears, centre_distance_mm=distance)
        assert pair.state is MeshState.GOOD
        assert pair.backlash_mm == pytest.approx(0.0, abs=0.0)
        assert pair.working_pressure_angle_deg == pytest.approx(20.0)


def test_mesh_below_the_tight_distance_is_jammed() -> None:
    gears = spur(9, module_mm=0.5), spur(27, module_mm=0.5)
    pair = mesh(*gears, centre_distance_mm=8.99)
    assert pair.state is MeshState.JAMMED
    assert pair.backlash_mm == pytest.approx(
        -0.02 * math.tan(math.radians(20)), rel=0.02
    )
    assert math.isnan(pair.contact_ratio)


def test_mesh_without_a_working_angle_is_jammed_and_says_no_figures() -> None:
    gears = spur(9, module_mm=0.5), spur(27, module_mm=0.5)
    pair = mesh(*gears, centre_distance_mm=9.0 * math.cos(math.radians(20)))
    assert pair.state is MeshState.JAMMED
    assert math.isnan(pair.working_pressure_angle_deg)
    assert math.isnan(pair.backlash_mm)


@pytest.mark.parametrize("distance", [9.5, 10.5])  # barely touching, far apart
def test_mesh_too_far_apart_is_out_of_mesh(distance: float) -> None:
    gears = spur(9, module_mm=0.5), spur(27, module_mm=0.5)
    pair = mesh(*gears, centre_distance_mm=distance)
    assert pair.state is MeshState.OUT_OF_MESH
    assert 0.0 <= pair.contact_ratio < 1.0


def test_contact_ratio_one_is_where_the_state_changes() -> None:
    gears = spur(9, module_mm=0.5), spur(27, module_mm=0.5)
    distances = np.linspace(9.0, 9.5, 2001)
    pair = mesh(*gears, centre_distance_mm=distances)
    good = pair.state == list(MeshState).index(MeshState.GOOD)
    assert good.any()
    assert not good.all()
    # Even an enlarged pinion carries no further.
    assert ((pair.enlarged_contact_ratio >= 1.0) == good).all()
    # Level while the start of the pinion's involute cuts one half, then falling.
    assert (np.diff(pair.contact_ratio) < 1e-12).all()


def test_arrays_give_what_one_pair_at_a_time_gives() -> None:
    pinions, gears = np.array([7, 8, 9, 12]), np.array([24, 27, 28, 36, 40])
    table = mesh(
        spur(pinions[:, None], module_mm=0.5),
        spur(gears[None, :], module_mm=0.5),
        centre_distance_mm=9.1,
    )
    assert table.state.dtype == np.int8
    assert table.state.shape == table.standard_centre_distance_mm.shape == (4, 5)
    for i, z1 in enumerate(pinions.tolist()):
        for j, z2 in enumerate(gears.tolist()):
            one = mesh(
                spur(z1, module_mm=0.5), spur(z2, module_mm=0.5), centre_distance_mm=9.1
            )
            assert list(MeshState)[table.state[i, j]] is one.state
            assert table.backlash_mm[i, j] == pytest.approx(
                one.backlash_mm, nan_ok=True
            )
            assert table.contact_ratio[i, j] == pytest.approx(
                one.contact_ratio, nan_ok=True
            )


def test_a_gear_not_known_gives_no_state() -> None:
    gears = spur([27.0, math.nan], module_mm=[0.5, math.nan])
    pair = mesh(spur(9, module_mm=0.5), gears)
    assert pair.state.tolist() == [0, -1]
    assert math.isnan(pair.ratio[1])


@given(
    z1=st.integers(6, 20),
    z2=st.integers(18, 60),
    module=st.floats(0.2, 1.0),
    shift=st.floats(0.0, 0.6),
    backlash=st.floats(1e-4, 0.3),
)
def test_distance_for_a_backlash_gives_that_backlash(
    z1: int, z2: int, module: float, shift: float, backlash: float
) -> None:
    gears = spur(z1, module_mm=module, shift=shift), spur(z2, module_mm=module)
    distance = centre_distance_for_backlash(*gears, backlash_mm=backlash).item()
    pair = mesh(*gears, centre_distance_mm=distance)
    # One nanometre: the grain in which distances are compared.
    assert pair.backlash_mm == pytest.approx(backlash, abs=1e-6)


def test_distance_for_backlash_is_the_librarys() -> None:
    # C5-29: the library's mesh_to with that backlash returns 54.05.
    gears = spur(12, module_mm=3.0), spur(24, module_mm=3.0)
    cosine = math.cos(
        math.radians(mesh(*gears, centre_distance_mm=54.05).working_pressure_angle_deg)
    )
    distance = centre_distance_for_backlash(*gears, backlash_mm=0.0343211544 / cosine)
    assert distance.item() == pytest.approx(54.05, abs=1e-6)


@given(
    z1=st.integers(6, 20),
    z2=st.integers(18, 60),
    scale=st.floats(0.1, 10),
    far=st.floats(0.99, 1.1),
)
def test_mesh_scales_with_the_module(
    z1: int, z2: int, scale: float, far: float
) -> None:
    distance = far * 0.5 * (z1 + z2) / 2
    small = mesh(
        spur(z1, module_mm=0.5), spur(z2, module_mm=0.5), centre_distance_mm=distance
    )
    large = mesh(
        spur(z1, module_mm=0.5 * scale),
        spur(z2, module_mm=0.5 * scale),
        centre_distance_mm=distance * scale,
    )
    # A distance within a nanometre of tight is taken for tight: that grain grows.
    assert large.backlash_mm == pytest.approx(
        small.backlash_mm * scale, rel=1e-6, abs=1e-6 * max(scale, 1), nan_ok=True
    )


def test_ratio_and_rollout() -> None:
    # C5-34: 28 / 9; and pi * 20 over it.
    pair = mesh(spur(9, module_mm=0.4), spur(28, module_mm=0.4))
    assert pair.ratio == pytest.approx(3.111111, abs=5e-7)
    assert rollout_mm(20.0, pair.ratio) == pytest.approx(math.pi * 20 * 9 / 28)
    table = rollout_mm(np.array([18.0, 20.0])[:, None], np.array([3.0, 4.0]))
    assert table == pytest.approx(np.pi * np.array([[6.0, 4.5], [20 / 3, 5.0]]))


@pytest.mark.parametrize("teeth", [0, 3, 401, 2000, -9, 9.5])
def test_a_count_of_teeth_that_is_no_gears_is_refused_with_the_count(
    teeth: float,
) -> None:
    with pytest.raises(TeethError, match=f"^{teeth:g} teeth") as refusal:
        spur(teeth, module_mm=0.5)
    assert refusal.value.code == "teeth_out_of_range"
    with pytest.raises(TeethError):
        true_outside_diameter_mm([6.0, 6.0], [11, teeth])


def test_teeth_not_known_are_refused_alone_and_kept_in_arrays() -> None:
    with pytest.raises(TeethError):
        spur(math.nan, module_mm=0.5)
    assert math.isnan(spur([math.nan], module_mm=0.5).pitch_diameter_mm[0])


@pytest.mark.parametrize(
    ("module", "angle", "shift"),
    [
        (0.0, 20, 0), (-0.5, 20, 0), (math.nan, 20, 0), (math.inf, 20, 0),
        (0.5, 0, 0), (0.5, 60, 0), (0.5, 20, 3), (0.5, 20, math.nan),
    ],
)  # fmt: skip
def test_a_form_that_is_no_spur_gears_is_refused(
    module: float, angle: float, shift: float
) -> None:
    with pytest.raises(NotAPitchError) as refusal:
        spur(12, module_mm=module, pressure_angle_deg=angle, shift=shift)
    assert refusal.value.code == "not_a_pitch"


def test_coarse_teeth_are_not_cut_to_the_fine_inch_depth() -> None:
    assert spur(12, module_mm=25.4 / 20, fine_inch=True).teeth == pytest.approx(12)
    with pytest.raises(NotAPitchError):
        spur(12, module_mm=25.4 / 16, fine_inch=True)


def test_unlike_teeth_are_refused() -> None:
    # 64 pitch and module 0.4 differ by 0.8 %.
    with pytest.raises(UnlikeTeethError):
        mesh(spur(9, module_mm=0.4), spur(28, module_mm=25.4 / 64))
    with pytest.raises(UnlikeTeethError):
        mesh(spur(9, module_mm=0.4), spur(28, module_mm=0.4, pressure_angle_deg=14.5))
    with pytest.raises(UnlikeTeethError) as refusal:
        mesh(spur(9, module_mm=0.4, shift=-1.9), spur(28, module_mm=0.4))
    assert refusal.value.code == "unlike_teeth"


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_lengths_that_are_not_positive_are_refused(bad: float) -> None:
    gears = spur(9, module_mm=0.5), spur(27, module_mm=0.5)
    for ask in (
        lambda: mesh(*gears, centre_distance_mm=bad),
        lambda: rollout_mm(bad, 3.0),
        lambda: rollout_mm(20.0, bad),
        lambda: true_outside_diameter_mm(bad, 11),
        lambda: teeth_for_centre_distance(bad, module_mm=0.5, ratio=3.0),
    ):
        with pytest.raises(NotALengthError) as refusal:
            ask()
        assert refusal.value.code == "not_a_length"


def test_teeth_for_a_distance_never_jam_and_refuse_what_is_no_gear() -> None:
    pair = teeth_for_centre_distance(9.2, module_mm=0.5, ratio=3.0)
    assert (pair.pinion_teeth, pair.gear_teeth) == (9, 27)
    assert pair.centre_distance_mm == pytest.approx(9.0)
    with pytest.raises(TeethError):
        teeth_for_centre_distance(3.0, module_mm=0.5, ratio=3.0)


@pytest.mark.parametrize("count", [0, -1, 10, 50])
def test_teeth_that_cannot_be_spanned_are_refused(count: int) -> None:
    with pytest.raises(TeethError):
        span_mm(spur(20, module_mm=2.0), spanned_count=count)


def test_one_tooth_more_spans_one_base_pitch_more() -> None:
    # C5-20: base pitch 5.904 of module 2.
    gear = spur(20, module_mm=2.0)
    more = span_mm(gear, spanned_count=4) - span_mm(gear, spanned_count=3)
    assert more == pytest.approx(5.904263, abs=5e-7)
