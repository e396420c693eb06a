"""The club's nights: those that are open, planned and past."""

from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Count, Prefetch, Q, QuerySet

from inspection.compute.night import EntryState
from inspection.models import Entry, NightClass, RaceClass, RaceNight

NIGHTS_A_PAGE = 30
#: So many nights are offered to copy entries from.
_TO_COPY_FROM = 6


@dataclass(frozen=True, kw_only=True)
class Nights:
    """All nights; the past ones page by page."""

    is_open: tuple[RaceNight, ...]
    planned: tuple[RaceNight, ...]
    past: Page[RaceNight]


def load_nights(page: str | None) -> Nights:
    """Load the nights with how many cars are entered in each, in a few queries."""
    nights = RaceNight.objects.annotate(
        cars=Count("entries", filter=~Q(entries__state=EntryState.WITHDRAWN))
    )
    ahead = nights.filter(closed_at=None).order_by("date", "pk")
    past = nights.filter(closed_at__isnull=False).order_by("-date", "-pk")
    nights_ahead = list(ahead)
    return Nights(
        is_open=tuple(night for night in nights_ahead if night.opened_at is not None),
        planned=tuple(night for night in nights_ahead if night.opened_at is None),
        past=Paginator(past, NIGHTS_A_PAGE).get_page(page),
    )


def nights_to_show() -> QuerySet[RaceNight]:
    """Give the nights with the edition of each class, in the same queries for all."""
    classes = NightClass.objects.select_related("race_class", "edition__rulebook")
    return RaceNight.objects.select_related("called_first").prefetch_related(
        Prefetch("classes", queryset=classes.order_by("race_class__name"))
    )


def nights_to_copy(night: RaceNight) -> QuerySet[RaceNight]:
    """Give the last nights before this one that had cars in one of its classes."""
    classes = night.classes.values("race_class")
    had_cars = Entry.objects.filter(race_class__in=classes).exclude(
        state=EntryState.WITHDRAWN
    )
    before = RaceNight.objects.filter(date__lte=night.date).exclude(pk=night.pk)
    counted = before.annotate(
        cars=Count("entries", filter=Q(entries__in=had_cars), distinct=True)
    )
    return counted.filter(cars__gt=0).order_by("-date", "-pk")[:_TO_COPY_FROM]


def classes_to_enter(night: RaceNight) -> QuerySet[RaceClass]:
    """Give the classes of a night, each with how many cars the club has of it."""
    racing = RaceClass.objects.filter(pk__in=night.classes.values("race_class"))
    counted = racing.annotate(car_count=Count("cars", filter=Q(cars__retired_at=None)))
    return counted.filter(car_count__gt=0).order_by("name")
