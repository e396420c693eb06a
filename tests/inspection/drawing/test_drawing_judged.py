"""Pictures of what was judged: limits, margins, spread, series, gear and jig."""

import pytest

from inspection.compute.judging.conformity import judge
from inspection.compute.judging.outcomes import DecisionRule, Outcome
from inspection.drawing.gear import GearInPlace, describe_gear, draw_gear
from inspection.drawing.histogram import Spread, draw_histogram
from inspection.drawing.jig import JigPicture, describe_jig, draw_jig
from inspection.drawing.limits import (
    RuleLimits,
    draw_limits,
    outcome_word,
)
from inspection.drawing.series import Chart, Line, TooManyLinesError, draw_series
from tests.inventory.drawings import (
    assert_well_made,
    corners,
    described,
    with_pen,
    words,
)

LIMITS = [(0.85, None), (None, 82.5), (60.0, 60.6), (60.0, 60.06)]


def limits(**changes: object) -> RuleLimits:
    values = {
        "guard_band": 0.05,
        "decision_rule": DecisionRule.SIMPLE_ACCEPTANCE,
        "lower": 0.85,
    }
    return RuleLimits(**(values | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(("lower", "upper"), LIMITS)
@pytest.mark.parametrize("decision_rule", list(DecisionRule))
@pytest.mark.parametrize("guard_band", [0.0, 0.05])
def test_limits_are_drawn_for_every_kind_of_rule(
    lower: float | None,
    upper: float | None,
    decision_rule: DecisionRule,
    guard_band: float,
) -> None:
    picture = limits(
        lower=lower, upper=upper, decision_rule=decision_rule, guard_band=guard_band
    )
    svg = draw_limits(picture)
    assert_well_made(svg)
    for limit in (lower, upper):
        if limit is not None:
            assert f"limit {limit:.2f} mm" in words(svg)


@pytest.mark.parametrize("value", [0.7, 0.81, 0.86, 0.95])
def test_limits_spot_stands_in_the_zone_that_the_judgement_names(value: float) -> None:
    judged = judge(
        value,
        0.05 / 1.6448536269514722,  # normal quantile at 0.95, so that g is 0.05
        lower=0.85,
        rule=DecisionRule.SIMPLE_ACCEPTANCE,
    )
    svg = draw_limits(limits(value=value))
    spots = [e for e in with_pen(svg, "d-ink") if e.tag.endswith("circle")]
    zones = [e for pen in ("d-outline", "d-tint") for e in with_pen(svg, pen)]
    labels = [(float(e.get("x", 0)), e.text) for e in with_pen(svg, "d-small")]
    if not spots:
        assert judged.outcome is Outcome.FAIL
        return
    x = float(spots[0].get("cx", "0"))
    (zone,) = (
        e
        for e in zones
        if float(e.get("x", 0)) <= x <= float(e.get("x", 0)) + float(e.get("width", 0))
    )
    middle = float(zone.get("x", 0)) + float(zone.get("width", 0)) / 2
    near = [text for place, text in labels if abs(place - middle) < 1]
    written = outcome_word(judged.outcome).split()
    assert near[0] in written


def test_limits_too_narrow_for_a_pass_say_so() -> None:
    guarded = DecisionRule.GUARDED_ACCEPTANCE
    svg = draw_limits(limits(lower=60.0, upper=60.06, decision_rule=guarded))
    assert "nothing is admitted" in words(svg)


def test_limits_value_far_off_is_an_arrow_at_the_edge() -> None:
    for value in (0.1, 5.0):
        svg = draw_limits(limits(value=value))
        assert not [e for e in with_pen(svg, "d-ink") if e.tag.endswith("circle")]
        assert f"{value:.2f} mm" in words(svg)


def test_limits_say_what_is_admitted() -> None:
    admitted = described(draw_limits(limits(value=0.9)))
    assert "Guard band 0.05 mm." in admitted
    assert "The value is 0.90 mm." in admitted
    assert admitted.endswith("Admitted: pass, conditional pass.")


def test_every_outcome_has_its_word() -> None:
    assert [outcome_word(outcome) for outcome in Outcome] == [str(o) for o in Outcome]


def test_histogram_bars_are_as_tall_as_their_counts() -> None:
    spread = Spread(
        title="Gear to track", edges=[0.6, 0.7, 0.8, 0.9], counts=[1, 4, 2], outside=1
    )
    bars = with_pen(draw_histogram(spread), "d-tint")
    heights = [float(bar.get("height", 0)) for bar in bars]
    assert heights[1] / heights[0] == pytest.approx(4, abs=0.01)
    assert heights[2] / heights[0] == pytest.approx(2, abs=0.01)


def test_histogram_hatches_what_is_beyond_the_limits() -> None:
    spread = Spread(
        title="Width",
        edges=[80, 81, 82, 83, 84],
        counts=[3, 0, 5, 2],
        lower=80.5,
        upper=82.5,
        outside=4,
    )
    svg = draw_histogram(spread)
    assert_well_made(svg)
    assert len(with_pen(svg, "d-accent-thin")) == 3
    assert "limit 80.50" in words(svg)
    assert "limit 82.50" in words(svg)
    assert "10 cars. " in described(svg)
    assert described(svg).endswith("4 cars are outside.")


def test_histogram_of_no_car_says_so() -> None:
    svg = draw_histogram(Spread(title="Weight", edges=[], counts=[]))
    assert_well_made(svg)
    assert "No car has this value yet." in words(svg)


def chart(*values: list[float], **changes: object) -> Chart:
    lines = [
        Line(name=f"line {index}", points=list(enumerate(each)))
        for index, each in enumerate(values)
    ]
    settings = {"title": "Rear tyre", "lines": lines, "lower": 19.9} | changes
    return Chart(**settings)  # type: ignore[arg-type]


def test_series_marks_lines_by_shape_and_limits_by_place() -> None:
    four = chart([20.2, 19.8], [20.3, 20.1], [20.4, 20.0], [20.1], upper=21.0)
    svg = draw_series(four)
    assert_well_made(svg)
    assert "line 0 ×" in words(svg)
    assert "line 1 ×" not in words(svg)
    assert len(with_pen(svg, "d-accent")) == 1
    assert "line 0: from 20.20 to 19.80 mm." in described(svg)


def test_series_refuses_a_fifth_line() -> None:
    with pytest.raises(TooManyLinesError) as refused:
        draw_series(chart(*[[1.0]] * 5))
    assert refused.value.code == "too_many_lines"


def test_series_leaves_out_words_that_would_meet() -> None:
    times = [(float(day), f"{day} March") for day in range(30)]
    svg = draw_series(chart([20.0] * 30, times=times))
    assert 2 < words(svg).count("March") < 12


def test_series_without_points_is_an_empty_chart() -> None:
    svg = draw_series(chart([], lower=None))
    assert_well_made(svg)


GEAR = GearInPlace(
    outside_diameter_mm=18.2,
    axle_over_ground_mm=10.2,
    ground_limit_mm=0.7,
    tyre_diameter_mm=20.4,
    axle_to_bar_mm=9.9,
    bar_limit_mm=0.3,
    teeth=36,
)


def test_gear_is_drawn_to_scale_with_both_gaps() -> None:
    svg = draw_gear(GEAR)
    assert_well_made(svg)
    assert "gear to track 1.10" in words(svg)
    assert "to bar 0.80" in words(svg)
    (tyre,) = (e for e in with_pen(svg, "d-hidden") if e.tag.endswith("circle"))
    scale = float(tyre.get("r", 0)) / 10.2
    (outline,) = with_pen(svg, "d-tint")
    points = corners(outline)
    assert len(points) == 4 * 36
    tall = max(y for _, y in points) - min(y for _, y in points)
    assert tall / scale == pytest.approx(18.2, abs=0.1)
    limit = corners(with_pen(svg, "d-limit")[0])[0][1]
    ground = corners(with_pen(svg, "d-ground")[0])[0][1]
    assert (ground - limit) / scale == pytest.approx(0.7, abs=0.01)


def test_gear_too_large_is_marked_at_both_gaps() -> None:
    large = GearInPlace(
        outside_diameter_mm=19.4,
        axle_over_ground_mm=10.2,
        ground_limit_mm=0.7,
        axle_to_bar_mm=9.9,
        bar_limit_mm=0.3,
    )
    svg = draw_gear(large)
    assert "gear to track 0.50 ×" in words(svg)
    assert "to bar 0.20 ×" in words(svg)
    assert "It clears the chassis bar by 0.20 mm." in describe_gear(large)


def test_gear_alone_or_with_its_pinion_is_drawn() -> None:
    alone = GearInPlace(outside_diameter_mm=15.0, axle_over_ground_mm=10.0)
    assert_well_made(draw_gear(alone))
    assert len(describe_gear(alone)) == 2
    meshed = GearInPlace(
        outside_diameter_mm=15.0,
        axle_over_ground_mm=10.0,
        pinion_diameter_mm=6.2,
        centre_distance_mm=10.1,
    )
    assert len(with_pen(draw_gear(meshed), "d-outline")) == 3


def test_jig_is_drawn_to_scale() -> None:
    jig = JigPicture(
        jig_tyre_diameter_mm=19.8,
        can_height_mm=15.4,
        spacer_mm=1.75,
        motor_lift_mm=0.3,
        axle_offset_mm=0.15,
    )
    svg = draw_jig(jig)
    assert_well_made(svg)
    assert "spacer 1.75" in words(svg)
    assert "axle offset +0.15" in words(svg)
    tyre = with_pen(svg, "d-hidden")[0]
    scale = float(tyre.get("r", 0)) / 9.9
    spacers = with_pen(svg, "d-rubber")
    assert len(spacers) == 2
    assert float(spacers[0].get("height", 0)) / scale == pytest.approx(1.75, abs=0.01)


def test_jig_tyre_too_small_says_so() -> None:
    jig = JigPicture(jig_tyre_diameter_mm=15.0, can_height_mm=16.0, spacer_mm=-0.5)
    svg = draw_jig(jig)
    assert_well_made(svg)
    assert "spacer −0.50" in words(svg)
    assert with_pen(svg, "d-limit")
    assert "too small" in describe_jig(jig)[-1]


def test_jig_without_a_spacer_needs_none() -> None:
    jig = JigPicture(jig_tyre_diameter_mm=16.0, can_height_mm=16.0, spacer_mm=0.0)
    assert not with_pen(draw_jig(jig), "d-rubber")
