"""The demo club's classes and the two editions of its rulebook."""

import datetime as dt
from pathlib import Path
from typing import Final

from inspection.actions.rulebooks import (
    add_race_class,
    draft_edition,
    publish_edition,
)
from inspection.files.rulebooks import read_rulebook
from inspection.models import Edition, RaceClass
from inventory.actions.audit import Act

RULEBOOK: Final = "Nettlewick club rules"
SALOONS: Final = "Town Saloons"
PROTOTYPES: Final = "Night Prototypes"
FOLDER: Final = Path(__file__).parent


def add_classes(*, act: Act) -> dict[str, RaceClass]:
    """Add both classes, by their names."""
    return {
        name: add_race_class(name, rulebook_name=RULEBOOK, act=act)
        for name in (SALOONS, PROTOTYPES)
    }


def publish(number: int, *, act: Act) -> Edition:
    """Draft an edition from its file a week before it is published."""
    text = read_rulebook((FOLDER / f"edition_{number}.json").read_bytes())
    drafted = Act(by=act.by, at=act.at - dt.timedelta(days=7))
    edition = draft_edition(text, act=drafted)
    return publish_edition(edition.pk, act=act)
