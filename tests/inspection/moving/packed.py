"""A small club taken out as an archive, and archives that were meddled with."""

import io
import json
import zipfile
from collections.abc import Mapping
from typing import Any

from inspection.actions.moving.bringing_in import FirstIn, open_archive
from inspection.actions.moving.taking_out import club_archive
from inspection.actions.rulings.held_cars import plan_sample, take_sample_back
from inspection.files.archive.unpacking import Archive
from inventory.actions.club import name_club
from inventory.compute.roles import Role
from tests import builders
from tests.browser.race_night import make_club
from tests.conftest import PASSWORD
from tests.inspection.sealed_cars import seal_cars
from tests.inventory.bags import make_bags

ADMIN = FirstIn(sign_in_name="boss", password=PASSWORD)


def packed_club() -> bytes:
    """Make a club with a bit of everything, and take it out."""
    make_bags()
    seal_cars(make_club())
    builders.send_back(builders.make_sheet().number, act=builders.act(minutes=3))
    _say_two_samples()
    boss = builders.make_person(Role.ADMIN, name="The “boss”,\nwith a comma")
    boss.sign_in_name = ADMIN.sign_in_name
    boss.save()
    name_club(name="Slot & Rail", place="The hall", act=builders.act())
    return b"".join(club_archive(at=builders.now()))


def _say_two_samples() -> None:
    """Say a sample, take it back and say another: the night has one that counts."""
    night = builders.make_entry().night
    plan_sample(night, 1, act=builders.act())
    take_sample_back(night, reason="said too early", act=builders.act())
    plan_sample(night, 1, act=builders.act())


def opened(content: bytes) -> Archive:
    return open_archive(io.BytesIO(content))


def members(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def descriptor(content: bytes) -> dict[str, Any]:
    said: dict[str, Any] = json.loads(members(content)["datapackage.json"])
    return said


def meddled(content: bytes, changes: Mapping[str, bytes | None]) -> bytes:
    """Give an archive with some members changed, or without them."""
    kept = {**members(content), **changes}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in kept.items():
            if text is not None:
                archive.writestr(name, text)
    return out.getvalue()
