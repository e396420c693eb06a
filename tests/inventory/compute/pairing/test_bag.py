"""A bag paired: each way against the function it stands for, and who takes no part."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from inventory.compute.pairing.bag import (
    Asked,
    Bag,
    Feature,
    FeatureLimit,
    GroupBy,
    NotABagError,
    NotSaidOfTheBagError,
    PairingWay,
    drifts_of,
    pair_bag,
)
from inventory.compute.pairing.rejects import RejectLimits, RejectReason
from inventory.compute.pairing.truing_the_rest import true_the_rest
from tests.inventory.compute.pairing.matching_oracles import (
    best_by_force,
    best_by_networkx,
)

LIMITS = RejectLimits(low_mm=8, high_mm=32)


def bag(*sizes_mm: float, **columns: Any) -> Bag:
    count = len(sizes_mm)
    features = {
        feature: np.array(columns.pop(feature.name.lower()), dtype=np.float64)
        for feature in Feature
        if feature.name.lower() in columns
    }
    words = {
        word: columns.pop(word.name.lower())
        for word in GroupBy
        if word.name.lower() in columns
    }
    return Bag(
        diameter_mm=np.array(sizes_mm, dtype=np.float64),
        random_mm=np.full(count, columns.pop("random", 0.01)),
        reading_count=np.full(count, columns.pop("count", 3)),
        features=features,
        words=words,
    )


def test_pairs_leftover_and_rejects_cover_the_bag_once() -> None:
    found = pair_bag(
        bag(18.40, 18.42, 1.843, 18.90, 99.0, 18.41, out_of_round=[0.01] * 5 + [0.2]),
        Asked(limits=RejectLimits(low_mm=8, high_mm=32, out_of_round_mm=0.05)),
    )
    assert found.members.tolist() == [[0, 1]]
    assert found.leftover.tolist() == [3]
    assert found.rejected.tolist() == [2, 4, 5]
    assert found.rejects.of(2) == (RejectReason.SLIP_OF_THE_DECIMAL,)
    assert found.rejects.of(5) == (RejectReason.OUT_OF_ROUND,)
    assert found.unmeasured.size == 0


def test_greedy_trap_finds_both_pairs() -> None:
    # C7-13 on a bag: 0, 4, 5, 9 hundredths over 18 mm, tolerance 4; two pairs, 8.
    found = pair_bag(
        bag(18.00, 18.04, 18.05, 18.09), Asked(tolerance_um=40, limits=LIMITS)
    )
    assert found.difference_um.tolist() == [40, 40]


def test_chance_is_the_normal_one_of_both_random_parts() -> None:
    found = pair_bag(bag(18.40, 18.43, random=0.02), Asked(limits=LIMITS))
    u = np.hypot(0.02, 0.02)
    expected = norm.cdf(0.05, 0.03, u) - norm.cdf(-0.05, 0.03, u)
    assert found.probability[0] == pytest.approx(expected, rel=1e-9)


def test_words_spelled_alike_but_for_capitals_are_one_group() -> None:
    tyres = bag(
        18.40, 18.41, 18.42, compound=["Soft", " soft ", "firm"], wheel=["a"] * 3
    )
    asked = Asked(limits=LIMITS, group_by=(GroupBy.COMPOUND,))
    found = pair_bag(tyres, asked)
    assert found.members.tolist() == [[0, 1]]
    assert found.group == [("Soft",), ("Soft",), ("firm",)]


def test_stagger_is_taken_off_the_difference_for_the_chance() -> None:
    asked = Asked(
        way=PairingWay.STAGGER, stagger_um=200, tolerance_um=20, limits=LIMITS
    )
    found = pair_bag(bag(18.40, 18.41, 18.60), asked)
    assert found.members.tolist() == [[0, 2]]
    assert found.difference_um.tolist() == [200]
    assert found.probability[0] == pytest.approx(
        norm.cdf(0.02, 0, np.hypot(0.01, 0.01)) * 2 - 1, rel=1e-9
    )


@given(
    st.lists(st.integers(18_000, 18_120), min_size=0, max_size=8),
    st.integers(0, 60),
    st.integers(0, 60),
)
def test_every_way_is_the_best_there_is(
    sizes: list[int], tolerance: int, stagger: int
) -> None:
    tyres = bag(*(size / 1000 for size in sizes))

    def cost(one: int, other: int, wanted: int) -> float | None:
        departure = abs(abs(sizes[one] - sizes[other]) - wanted)
        return departure if departure <= tolerance else None

    for way, wanted in ((PairingWay.PAIRS, 0), (PairingWay.STAGGER, stagger)):
        asked = Asked(way=way, tolerance_um=tolerance, stagger_um=wanted, limits=LIMITS)
        found = pair_bag(tyres, asked)
        departure = int(np.abs(found.difference_um - wanted).sum())
        best = best_by_networkx(len(sizes), lambda a, b, w=wanted: cost(a, b, w))  # type: ignore[misc]
        assert (len(found.members), departure) == best
    sets = pair_bag(
        tyres, Asked(way=PairingWay.SETS, tolerance_um=tolerance, limits=LIMITS)
    )

    def range_of(members: tuple[int, ...]) -> float | None:
        spread = max(sizes[m] for m in members) - min(sizes[m] for m in members)
        return spread if spread <= tolerance else None

    best = best_by_force(len(sizes), 4, range_of)
    assert (len(sets.members), int(sets.difference_um.sum())) == best


def test_features_pair_what_agrees_and_name_what_lacks_a_measure() -> None:
    tyres = bag(
        18.40, 18.41, 18.42, 18.40, width=[11.0, 11.5, 11.0, np.nan], taper=[0.0] * 4
    )
    asked = Asked(
        way=PairingWay.FEATURES,
        features={
            Feature.WIDTH: FeatureLimit(tolerance=0.1, weight=2),
            Feature.TAPER: FeatureLimit(tolerance=0.05),
        },
        limits=LIMITS,
    )
    found = pair_bag(tyres, asked)
    assert found.members.tolist() == [[0, 2]]
    assert found.leftover.tolist() == [1]
    assert found.unmeasured.tolist() == [3]


def test_feature_that_nobody_measured_leaves_nobody() -> None:
    asked = Asked(
        way=PairingWay.FEATURES,
        features={Feature.HARDNESS: FeatureLimit(tolerance=2)},
        limits=LIMITS,
    )
    found = pair_bag(bag(18.40, 18.41), asked)
    assert found.members.shape == (0, 2)
    assert found.unmeasured.tolist() == [0, 1]


def test_truing_takes_the_rest_and_those_rejected_for_their_form() -> None:
    tyres = bag(
        18.80, 18.90, 18.60, 99.0, 18.70, out_of_round=[0.0, 0.0, 0.2, 0.0, 0.0]
    )
    found = pair_bag(
        tyres,
        Asked(
            tolerance_um=20,
            limits=RejectLimits(low_mm=8, high_mm=32, out_of_round_mm=0.05),
        ),
    )
    plan = true_the_rest(
        tyres, found, max_removal_um=220, floor_um=18_000, clean_up_um=20
    )
    # By hand: 18.60 with 18.70 and 18.80 with 18.90, each pair to its smallest
    # section less 0.02; of 18.60 that is 18.50, half of 0.2 below its mean.
    assert plan.keep.tolist() == [0, 2]
    assert plan.grind.tolist() == [1, 4]
    assert plan.target_um.tolist() == [18_780, 18_480]
    assert plan.removal_um.tolist() == [120, 220]
    assert plan.leftover.tolist() == []


@pytest.mark.parametrize(
    ("out_of_round", "taper"), [(0.2, 0.0), (0.0, -0.2), (0.12, 0.08)]
)
def test_trued_tyres_have_no_section_left_uncut(
    out_of_round: float, taper: float
) -> None:
    # Two lobes and a cone, outlined: no radius may be inside of what is cut to.
    form = {"out_of_round": [out_of_round] * 2, "taper": [taper] * 2}
    tyres = bag(18.60, 18.65, **form)
    limits = RejectLimits(low_mm=8, high_mm=32, out_of_round_mm=0.05, taper_mm=0.05)
    found = pair_bag(tyres, Asked(tolerance_um=20, limits=limits))
    plan = true_the_rest(tyres, found, max_removal_um=500, floor_um=18_000)
    angle = np.linspace(0, np.pi, 721)
    for mean in (18.60, 18.65):
        lobes = mean + out_of_round / 2 * np.cos(2 * angle)
        outline = lobes[:, None] + taper * np.array([-0.5, 0.5])
        assert plan.target_um[0] / 1000 <= outline.min() + 1e-9
    assert plan.target_um.tolist() == [18_500]


def test_drift_is_that_of_the_worked_pair() -> None:
    # 20.00 and 20.10 at 60 mm: 41.54 mm a metre (common practice, no source).
    drift = drifts_of(bag(20.0, 20.1), np.array([[0, 1]]), track_mm=60)
    assert drift == pytest.approx([41.54], abs=0.005)


def test_bag_with_a_column_too_short_is_refused() -> None:
    with pytest.raises(NotABagError):
        bag(18.40, 18.41, width=[11.0])


def test_empty_bag_has_nothing() -> None:
    for way in PairingWay:
        found = pair_bag(bag(), Asked(way=way, limits=LIMITS))
        assert len(found.members) == len(found.leftover) == 0


def test_like_cannot_be_kept_with_like_in_what_no_tyre_says() -> None:
    tyres = bag(18.40, 18.41, compound=["soft", ""], width_code=[" ", ""])
    assert tyres.says(GroupBy.COMPOUND)
    assert not tyres.says(GroupBy.WIDTH_CODE)
    for unsaid in (GroupBy.WIDTH_CODE, GroupBy.WHEEL):
        asked = Asked(limits=LIMITS, group_by=(GroupBy.COMPOUND, unsaid))
        with pytest.raises(NotSaidOfTheBagError, match=f"says its {unsaid}"):
            pair_bag(tyres, asked)
    # Of nothing nothing need be said.
    assert pair_bag(bag(), Asked(limits=LIMITS, group_by=tuple(GroupBy))).group == []
