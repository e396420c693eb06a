"""Gauges: bringing one into use, and checking it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from inventory.actions.audit import Act, record_event
from inventory.actions.refusals import RefusedError, reason_given
from inventory.compute.errors import ComputeError
from inventory.compute.measuring import (
    CheckKind,
    CheckResult,
    Instrument,
    check_against_master,
)
from inventory.compute.measuring import GaugeMode as Mode
from inventory.compute.numbers import (
    Unit,
    from_millionths,
    parse_reading,
    to_millionths,
)
from inventory.loaders.gauges import LoadedGauge, compute_gauge
from inventory.models import CheckStrike, Gauge, GaugeCheck, GaugeMode
from inventory.words.enumerations import word_of


@dataclass(frozen=True, kw_only=True)
class ModeFigures:
    """The errors a gauge may have in one mode, in millionths of the unit."""

    mode: Mode
    unit: Unit
    resolution: int
    max_permissible_error: int
    repeatability: int = 0


@transaction.atomic
def add_gauge(
    *,
    name: str,
    instrument: Instrument,
    modes: Iterable[ModeFigures],
    check_every_days: int,
    act: Act,
) -> Gauge:
    """
    Bring a gauge into use.

    Writes a Gauge and its GaugeModes; audits ``gauge.added``.  Raises
    RefusedError when the name is taken or no mode is given.
    """
    figures = list(modes)
    if not figures:
        raise RefusedError(
            code="no_mode",
            sentence=_("“%(name)s” has no mode: give at least one.") % {"name": name},
            field="modes",
        )
    if Gauge.objects.filter(name=name).exists():
        raise RefusedError(
            code="name_taken",
            sentence=_("A gauge is already called “%(name)s”.") % {"name": name},
            field="name",
        )
    gauge = Gauge.objects.create(
        name=name, instrument=instrument, check_every_days=check_every_days
    )
    GaugeMode.objects.bulk_create(_mode(gauge, one) for one in figures)
    record_event("gauge.added", subject=gauge, act=act)
    return gauge


@dataclass(frozen=True, kw_only=True)
class NewGauge:
    """A gauge that comes into use."""

    name: str
    instrument: Instrument
    modes: tuple[ModeFigures, ...]
    check_every_days: int


@transaction.atomic
def add_gauges(new: Iterable[NewGauge], *, act: Act) -> list[Gauge]:
    """
    Bring several gauges into use, all or none.

    Writes a Gauge each with its GaugeModes; audits ``gauge.added``.  Raises
    RefusedError when a name is taken or stands twice.
    """
    return [
        add_gauge(
            name=one.name,
            instrument=one.instrument,
            modes=one.modes,
            check_every_days=one.check_every_days,
            act=act,
        )
        for one in new
    ]


@dataclass(frozen=True, kw_only=True)
class CheckFound:
    """What a check of a gauge found; sizes in millionths of the unit."""

    kind: CheckKind
    result: CheckResult
    master: int | None = None
    bias: int | None = None
    note: str = ""


@transaction.atomic
def check_gauge(gauge: Gauge, outcome: CheckFound, *, act: Act) -> GaugeCheck:
    """
    Record a check of a gauge.

    Writes a GaugeCheck; audits ``gauge.checked``.
    """
    check = GaugeCheck.objects.create(
        gauge=gauge,
        kind=outcome.kind,
        result=outcome.result,
        taken_at=act.at,
        by=act.by,
        master=outcome.master,
        bias=outcome.bias,
        note=outcome.note,
    )
    record_event(
        "gauge.checked",
        subject=gauge,
        act=act,
        result=outcome.result,
        kind=outcome.kind,
    )
    return check


@transaction.atomic
def strike_check(check: GaugeCheck, *, reason: str, act: Act) -> CheckStrike:
    """
    Strike a check that was typed wrong; the gauge stands as if there were none.

    What rests on it, such as readings in doubt, is found anew at the next look.
    Writes a CheckStrike; audits ``gauge.check_struck``.  Raises RefusedError without
    a reason, or where it is struck already.
    """
    why = reason_given(reason)
    check = GaugeCheck.objects.select_for_update().get(pk=check.pk)
    if CheckStrike.objects.filter(of=check).exists():
        raise RefusedError(
            code="struck_already",
            sentence=_("This check of %(gauge)s is struck.") % {"gauge": check.gauge},
        )
    strike = CheckStrike.objects.create(of=check, reason=why, at=act.at, by=act.by)
    record_event(
        "gauge.check_struck",
        subject=check.gauge,
        act=act,
        check=check.pk,
        result=check.result,
        reason=why,
    )
    return strike


@dataclass(frozen=True, kw_only=True)
class MasterReadings:
    """What was typed at a check: the master's size, its readings, the zero."""

    kind: CheckKind
    master_text: str
    texts: tuple[str, ...]
    zero_text: str = ""


@transaction.atomic
def check_by_readings(
    mode: GaugeMode, typed: MasterReadings, *, act: Act
) -> GaugeCheck:
    """
    Check a gauge by what it reads of a master, and at zero where that was read.

    Writes a GaugeCheck, passed or failed by the permissible error of this mode;
    audits ``gauge.checked``.  Raises RefusedError for a text that is no value.
    """
    unit = mode.unit
    master = _millionths(typed.master_text, unit, field="master")
    readings = [
        from_millionths(_millionths(text, unit, field="texts")) for text in typed.texts
    ]
    gauge = compute_gauge(mode)
    try:
        outcome = check_against_master(
            readings, master=from_millionths(master), gauge=gauge
        )
    except ComputeError as error:
        raise RefusedError.because(error, field="texts") from error
    passed = outcome.passed
    if typed.zero_text.strip():
        zero = from_millionths(_millionths(typed.zero_text, unit, field="zero"))
        passed &= check_against_master([zero], master=0.0, gauge=gauge).passed
    return check_gauge(
        mode.gauge,
        CheckFound(
            kind=typed.kind,
            result=CheckResult.PASSED if passed else CheckResult.FAILED,
            master=master,
            bias=to_millionths(outcome.bias),
            note=f"{mode.mode}: {' '.join(typed.texts)}"[:200],
        ),
        act=act,
    )


@transaction.atomic
def adopt_repeatability(
    mode: GaugeMode, repeatability: float, *, act: Act
) -> GaugeMode:
    """
    Give a gauge the repeatability that its study found.

    Writes a new GaugeMode and the end of the one before, so that old readings
    keep their figures; audits ``gauge.repeatability_adopted``.  Raises
    RefusedError when somebody has just replaced it.
    """
    now = ModeFigures(
        mode=mode.mode,
        unit=mode.unit,
        resolution=mode.resolution,
        max_permissible_error=mode.max_permissible_error,
        repeatability=to_millionths(repeatability),
    )
    made = _replaced(mode, now, act)
    record_event(
        "gauge.repeatability_adopted",
        subject=mode.gauge,
        act=act,
        before=mode.repeatability,
        after=made.repeatability,
    )
    return made


@transaction.atomic
def change_figures(
    mode: GaugeMode, figures: ModeFigures, *, reason: str, act: Act
) -> GaugeMode:
    """
    Give a gauge other figures in one of its modes, with a reason.

    Writes a new GaugeMode and the end of the one before, so that old readings keep
    their figures; audits ``gauge.figures_changed``.  Raises RefusedError without a
    reason, or when somebody has just replaced it.
    """
    why = reason_given(reason)
    made = _replaced(mode, figures, act)
    record_event(
        "gauge.figures_changed",
        subject=mode.gauge,
        act=act,
        mode=mode.mode,
        reason=why,
        before=_figures(mode),
        after=_figures(made),
    )
    return made


@transaction.atomic
def add_mode(gauge: Gauge, figures: ModeFigures, *, act: Act) -> GaugeMode:
    """
    Let a gauge be used in one more mode.

    Writes a GaugeMode; audits ``gauge.mode_added``.  Raises RefusedError when the
    gauge has it already.
    """
    has_it = gauge.modes.filter(
        mode=figures.mode, unit=figures.unit, replaced_at=None
    ).exists()
    if has_it:
        raise RefusedError(
            code="mode_taken",
            sentence=_(
                "%(gauge)s reads %(unit)s in the mode “%(mode)s” already; change its "
                "figures there."
            )
            % {
                "gauge": gauge,
                "unit": word_of(figures.unit),
                "mode": word_of(figures.mode),
            },
            field="mode",
        )
    made = _mode(gauge, figures)
    made.save()
    record_event(
        "gauge.mode_added", subject=gauge, act=act, mode=made.mode, **_figures(made)
    )
    return made


def _replaced(mode: GaugeMode, figures: ModeFigures, act: Act) -> GaugeMode:
    ended = GaugeMode.objects.filter(pk=mode.pk, replaced_at=None).update(
        replaced_at=act.at
    )
    if not ended:
        raise RefusedError(
            code="figures_replaced",
            sentence=_("The figures of %(mode)s have just been replaced; look again.")
            % {"mode": mode},
        )
    made = _mode(mode.gauge, figures)
    made.save()
    return made


def _mode(gauge: Gauge, figures: ModeFigures) -> GaugeMode:
    return GaugeMode(
        gauge=gauge,
        mode=figures.mode,
        unit=figures.unit,
        resolution=figures.resolution,
        max_permissible_error=figures.max_permissible_error,
        repeatability=figures.repeatability,
    )


def _figures(mode: GaugeMode) -> dict[str, int]:
    return {
        "resolution": mode.resolution,
        "max_permissible_error": mode.max_permissible_error,
        "repeatability": mode.repeatability,
    }


def _millionths(text: str, unit: Unit, *, field: str) -> int:
    try:
        return parse_reading(text, unit=unit).millionths
    except ComputeError as error:
        raise RefusedError.because(error, field=field) from error


def refuse_gauge(gauge: LoadedGauge, *, unit: Unit, of: str) -> None:
    """Refuse a gauge that reads another unit than ``of`` is in, or is barred."""
    if gauge.mode.unit != unit:
        raise RefusedError(
            code="gauge_of_other_unit",
            sentence=_("%(gauge)s reads %(unit)s; %(of)s is in %(unit_2)s.")
            % {
                "gauge": gauge.mode.gauge,
                "unit": word_of(gauge.mode.unit),
                "of": of,
                "unit_2": word_of(unit),
            },
            field="gauge",
        )
    if gauge.is_barred:
        raise RefusedError(
            code="gauge_barred",
            sentence=_(
                "%(gauge)s: %(standing)s; check it against the master or take another."
            )
            % {"gauge": gauge.mode.gauge, "standing": word_of(gauge.standing)},
            field="gauge",
        )


def gauge_missing(of_unit: Iterable[LoadedGauge], *, of: str) -> RefusedError:
    """Ask with which gauge ``of`` was taken; where none may be used, say why not."""
    gauges = list(of_unit)
    words = _("say which gauge it was taken with.")
    if gauges and all(one.is_barred for one in gauges):
        barred = sorted(
            {f"{one.mode.gauge}: {word_of(one.standing)}" for one in gauges}
        )
        words = _(
            "no gauge for it may be used (%(gauges)s); check one against a master, on "
            "its page under Gauges."
        ) % {"gauges": "; ".join(barred)}
    return RefusedError(code="gauge_missing", sentence=f"{of}: {words}", field="gauge")
