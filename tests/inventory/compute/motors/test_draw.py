"""The draw: anyone can check it with a shell, and nobody is favoured."""

import shutil
import subprocess
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.compute.motors.draws import (
    DrawnTwiceError,
    Lot,
    NoSeedError,
    TooFewMotorsError,
    draw_motors,
)

DRIVERS = ["7", "12", "33", "4", "51"]
MOTORS = ["M2K7", "M3QX", "M4AA", "M5B9", "M6CD", "M7EF"]
tags = st.text(st.characters(codec="utf-8"), min_size=1)


def by_shell(label: str, tags: list[str]) -> list[str]:
    """Do what the docstring tells people to do."""
    script = 'for tag in "$@"; do printf %s "$0$tag" | sha256sum; done'
    answer = subprocess.run(
        ["sh", "-c", script, label, *tags], check=True, capture_output=True, text=True
    )
    return [
        tag for _, tag in sorted(zip(answer.stdout.splitlines(), tags, strict=True))
    ]


@pytest.mark.parametrize("seed", ["6 2 5", "Übung 3", "$(true)"])
def test_shell_draws_the_same(seed: str) -> None:
    assert shutil.which("sha256sum")
    draw = draw_motors(seed, drivers=DRIVERS, motors=MOTORS)
    drivers = by_shell(f"{seed}/driver/", DRIVERS)
    motors = by_shell(f"{seed}/motor/", MOTORS)
    motor_of = dict(zip(drivers, motors, strict=False))
    assert [lot.driver for lot in draw.lots] == DRIVERS
    assert {lot.driver: lot.motor for lot in draw.lots} == motor_of
    assert list(draw.spare) == motors[len(DRIVERS) :]


@given(
    seed=tags,
    drivers=st.lists(tags, unique=True, max_size=8),
    spare=st.lists(tags, unique=True, max_size=4),
)
def test_each_driver_gets_one_and_each_motor_goes_once(
    seed: str, drivers: list[str], spare: list[str]
) -> None:
    motors = [f"M{place}" for place in range(len(drivers) + len(spare))]
    draw = draw_motors(seed, drivers=drivers, motors=motors)
    assert [lot.driver for lot in draw.lots] == drivers
    assert sorted([*(lot.motor for lot in draw.lots), *draw.spare]) == sorted(motors)
    again = draw_motors(seed, drivers=drivers[::-1], motors=motors[::-1])
    assert set(again.lots) == set(draw.lots)
    assert again.spare == draw.spare


def test_every_motor_comes_to_every_driver_as_often() -> None:
    # Drivers and motors of the same names: they must not find each other.
    tries, names = 4000, ["1", "2", "3", "4"]
    seen: Counter[Lot] = Counter()
    for seed in range(tries):
        seen.update(draw_motors(str(seed), drivers=names, motors=names).lots)
    # Binomial, p 1/4: six standard deviations are 164.
    assert len(seen) == 16
    assert all(abs(count - tries / 4) < 164 for count in seen.values())


def test_without_a_seed_there_is_no_draw() -> None:
    with pytest.raises(NoSeedError):
        draw_motors("", drivers=DRIVERS, motors=MOTORS)


@pytest.mark.parametrize(
    ("drivers", "motors", "tag"),
    [(["7", "7"], ["M1", "M2"], "7"), (["7"], ["M1", "M1"], "M1")],
)
def test_on_a_list_twice_is_refused(
    drivers: list[str], motors: list[str], tag: str
) -> None:
    with pytest.raises(DrawnTwiceError) as refused:
        draw_motors("1", drivers=drivers, motors=motors)
    assert refused.value.tag == tag


def test_too_few_motors_are_refused() -> None:
    with pytest.raises(TooFewMotorsError, match="1 motors for 2 drivers"):
        draw_motors("1", drivers=["7", "8"], motors=["M1"])


def test_no_drivers_leave_all_motors() -> None:
    draw = draw_motors("1", drivers=[], motors=["M1"])
    assert draw.lots == ()
    assert draw.spare == ("M1",)
