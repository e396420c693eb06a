"""A club with a car on the block and a caliper box there, made in a data folder."""

import json

import django

django.setup()

from inspection.actions.night.blocks import add_block  # noqa: E402
from inspection.actions.night.boxes import make_box, put_box  # noqa: E402
from inspection.actions.sheets import start_sheet  # noqa: E402
from inventory.actions.audit import Act  # noqa: E402
from inventory.compute.roles import Role  # noqa: E402
from tests.builders import (  # noqa: E402
    make_edition,
    make_entry,
    make_gauge,
    make_night,
    make_person,
    now,
    rule,
)


def main() -> None:
    edition = make_edition([rule("1", "tyre_diameter_rear", lower=15)])
    entry = make_entry(night=make_night(edition))
    act = Act(by=make_person(Role.SCRUTINEER), at=now())
    block = add_block("Window", act=act)
    made = make_box("box 1", make_gauge(at=now()), act=act)
    put_box(made.box.pk, block, act=act)
    sheet = start_sheet(entry.pk, block=block, changed=(), act=act)
    said = {"token": made.text, "sheet": sheet.number, "by": act.by.pk}
    print(json.dumps(said))  # noqa: T201


if __name__ == "__main__":
    main()
