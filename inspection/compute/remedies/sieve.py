"""
Which changes of parts leave every rule at its limit or inside it.

Where two parts are changed at once, most rules move with one of them only.  Such a
rule is judged on that part by itself, once for all pairs it is in; only the rules that
both parts move are worked out pair by pair, for the pairs that are left by then.
Measured values alone decide here; their uncertainty is judged afterwards, on the few
that remain.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np

from inspection.compute.fit import DECIMALS, GearGround, gear_ground
from inspection.compute.judging import Rules
from inspection.compute.remedies.fitting_parts import RemedyFits
from inspection.compute.stance import Field
from inspection.compute.what_if import (
    GEAR_ON_TRACK,
    OFF_THE_TRACK,
    Change,
    Changes,
    Masses,
    Stock,
    columns_of_change,
    mandatory_margins,
    off_the_track,
    rests_on,
    with_parts,
)
from inventory.compute.arrays import Bools, Ints

_PAIR: Final = 0
_GEAR: Final = 1
_ROWS_AT_ONCE: Final = 8192


@dataclass(frozen=True, kw_only=True, eq=False)
class Problem:
    """
    One car that is to be made legal from one stock.

    ``asked`` are the rules that count; with ``fits``, parts must fit too, nothing
    may touch the track, and the clearance of another gear must be known.
    """

    rulebook: Rules
    car: Field
    stock: Stock
    asked: Bools
    masses: Masses
    fits: RemedyFits | None

    def field(self, changes: Changes) -> Field:
        """
        Put parts on the car.

        Parameters
        ----------
        changes : Changes
            Which.

        Returns
        -------
        Field
            A row a change.
        """
        return with_parts(self.car, self.stock, changes, self.masses)


@dataclass(frozen=True, kw_only=True, eq=False)
class Sieve:
    """The rules of a problem, and those of the track after them."""

    problem: Problem
    rulebook: Rules
    car: Field
    asked: Bools

    @classmethod
    def of(cls, problem: Problem) -> "Sieve":
        """
        Lay the rules out.

        Parameters
        ----------
        problem : Problem
            Car and stock.

        Returns
        -------
        Sieve
            With the rules of the track at the end.
        """
        rulebook, car = off_the_track(problem.rulebook, problem.car)
        more = np.full(
            rulebook.count - problem.rulebook.count, problem.fits is not None
        )
        return cls(
            problem=problem,
            rulebook=rulebook,
            car=car,
            asked=np.append(problem.asked, more),
        )

    def changes(self) -> Changes:
        """
        List what keeps the limits.

        Returns
        -------
        Changes
            Every single change that does, then every two.
        """
        kept = [*self._singles_kept(), *self._doubles_kept()]
        return Changes(
            pair=np.concatenate([one.pair for one in kept]),
            gear=np.concatenate([one.gear for one in kept]),
            motor=np.concatenate([one.motor for one in kept]),
        )

    def _singles_kept(self) -> Iterator[Changes]:
        for kind, holds in enumerate(self._singles):
            changes = _one_of(kind, np.arange(len(holds)))
            yield changes.take(np.flatnonzero(holds.all(axis=1) & self._fit(changes)))

    def _doubles_kept(self) -> Iterator[Changes]:
        for one, other in combinations(range(len(Change)), 2):
            changes = self._candidates(one, other)
            changes = changes.take(np.flatnonzero(self._fit(changes)))
            both = self._moves[one] & self._moves[other]
            if (one, other) == (_PAIR, _GEAR) and self._ground.known:
                # Tyres by gears are the most, and the clearance below a gear is a
                # straight line in its diameter: how the car stands is worked out
                # for the tyres alone.
                clears = self._gear_clears(changes)
                changes = changes.take(np.flatnonzero(clears))
                both = both & ~self._on_gear_clearance
            kept = self._holds(changes, both).all(axis=1)
            yield changes.take(np.flatnonzero(kept))

    @cached_property
    def _on_gear_clearance(self) -> Bools:
        """Rules on the clearance of the gear that accept a derived one."""
        key = OFF_THE_TRACK[GEAR_ON_TRACK]
        on_it = self.rulebook.column == self.car.columns.index(key)
        derived: Bools = on_it & ~self.rulebook.taken_only
        return derived

    @cached_property
    def _ground(self) -> GearGround:
        """What any gear leaves below it, a row a pair of tyres."""
        every = _one_of(_PAIR, np.arange(self.problem.stock.pairs.row_count))
        return gear_ground(replace(self.problem, car=self.car).field(every))

    def _gear_clears(self, changes: Changes) -> Bools:
        clearance = self._ground.take(changes.pair).clearance_mm(
            self.problem.stock.gears.outside_diameter_mm[changes.gear]
        )
        clears = np.ones(len(clearance), dtype=np.bool_)
        for rule in np.flatnonzero(self._on_gear_clearance & self.asked).tolist():
            lower, upper = self.rulebook.lower[rule], self.rulebook.upper[rule]
            margin = np.fmin(clearance - lower, upper - clearance)
            clears &= np.round(margin, DECIMALS) >= 0.0
        return clears

    def _candidates(self, one: int, other: int) -> Changes:
        """Pairs of parts that keep every rule which not both of them move."""
        first, second = self._moves[one], self._moves[other]
        good = np.logical_and.outer(
            self._singles[one][:, ~second].all(axis=1),
            self._singles[other][:, second & ~first].all(axis=1),
        )
        places = np.nonzero(good)
        changes = _one_of(one, places[0])
        return replace(changes, **_named(other, places[1]))

    @cached_property
    def _moves(self) -> tuple[Bools, ...]:
        """By kind of part, which rules it moves."""
        return tuple(
            rests_on(self.rulebook, self.car, columns_of_change(one)) for one in Change
        )

    @cached_property
    def _singles(self) -> tuple[Bools, ...]:
        """By kind of part, which part keeps which rule when it goes on alone."""
        stock = self.problem.stock
        every = np.ones(self.rulebook.count, dtype=np.bool_)
        return tuple(
            self._holds(_one_of(kind, np.arange(table.row_count)), every)
            for kind, table in enumerate((stock.pairs, stock.gears, stock.motors))
        )

    def _fit(self, changes: Changes) -> Bools:
        fits = self.problem.fits
        if fits is None:
            return np.ones(len(changes.pair), dtype=np.bool_)
        return fits.fits(changes)

    def _holds(self, changes: Changes, which: Bools) -> Bools:
        """Tell by change and asked rule of those meant whether it is kept."""
        rules = np.flatnonzero(which & self.asked)
        holds = np.ones((len(changes.pair), len(which)), dtype=np.bool_)
        rulebook = self.rulebook.only(rules)
        problem = replace(self.problem, car=self.car)
        track = rules >= self.problem.rulebook.count
        of_gear = rules == self.problem.rulebook.count + GEAR_ON_TRACK
        for start in range(0, len(holds) if len(rules) else 0, _ROWS_AT_ONCE):
            some = changes.take(slice(start, start + _ROWS_AT_ONCE))
            margin = mandatory_margins(rulebook, problem.field(some))
            # What is not known on the track is the car's, unless a gear goes on.
            unknown = np.isnan(margin) & track
            unknown &= ~(of_gear & (some.gear >= 0)[:, None])
            holds[start : start + len(margin), rules] = (margin >= 0.0) | unknown
        return holds


def _named(kind: int, rows: Ints) -> dict[str, Ints]:
    return {tuple(Change)[kind].value: rows}


def _one_of(kind: int, rows: Ints) -> Changes:
    none = np.full(len(rows), -1)
    return Changes(**{"pair": none, "gear": none, "motor": none, **_named(kind, rows)})
