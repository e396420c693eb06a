"""What the guide and the units say can be done: asked of the programs themselves."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import get_commands

from tests.deploy.guide.blocks import GUIDE, blocks, run
from tests.deploy.servers import ROOT, free_port, nginx

UNITS = sorted((ROOT / "deploy").glob("feelerbook*.service"))
WORST_EXPOSURE = 2.0
IMAGES = {"Containerfile": "python:3.13-slim", "compose.yaml": "postgres:17"}
systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="this machine has no systemd"
)


def analyse(*words: str) -> str:
    done = subprocess.run(
        ["systemd-analyze", "--no-pager", *words],
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


@systemd
def test_units_are_as_systemd_wants_them_and_let_the_service_do_little(
    tmp_path: Path,
) -> None:
    for path in (*UNITS, *(ROOT / "deploy").glob("*.timer")):
        # systemd looks whether the programs are there: here they are in another place.
        said = path.read_text(encoding="utf-8")
        said = re.sub(r"/opt/feelerbook/.venv/bin/\w+", sys.executable, said)
        (tmp_path / path.name).write_text(said, encoding="utf-8")
    made = [str(path) for path in sorted(tmp_path.iterdir())]
    assert len(made) == 7
    assert analyse("verify", *made) == ""
    for unit in UNITS:
        said = analyse("security", "--offline=true", str(unit))
        found = re.search(r"Overall exposure level for \S+: ([\d.]+)", said)
        assert found is not None
        assert float(found[1]) <= WORST_EXPOSURE, said


def test_every_unit_that_is_shipped_is_begun_by_the_guide() -> None:
    said = GUIDE.read_text(encoding="utf-8")
    (begun,) = re.findall(r"systemctl enable --now ((?:.*\\\n)*.*)", said)
    shipped = [*(ROOT / "deploy").glob("*.timer"), ROOT / "deploy/feelerbook.service"]
    units = begun.replace("\\\n", " ").split()
    assert sorted(units) == sorted(path.name for path in shipped)


def test_commands_files_and_settings_that_the_guide_names_exist() -> None:
    said = GUIDE.read_text(encoding="utf-8")
    commands = set(re.findall(r"manage\.py\s+(\w+)", said))
    assert {"backup", "restore", "upgrade", "begin_club"} <= commands
    assert commands <= set(get_commands())
    for name in re.findall(r"deploy/[\w.]+(?:/[\w.]+)*", said):
        assert (ROOT / name).exists() or name in {"deploy/start.py"}, name
    code = "".join(
        p.read_text("utf-8")
        for p in (ROOT / "deploy").rglob("*.*")
        if p.suffix in {".py", ".yaml"}
    )
    for name in set(re.findall(r"FEELERBOOK_\w+", said)):
        assert name in code, name


def test_images_are_pinned_by_the_digests_that_are_had(tmp_path: Path) -> None:
    """No registry is reached from here: what docker prints is written down."""
    places = {f"deploy/{name}": f"{tmp_path}/{name}" for name in IMAGES}
    for name, copy in places.items():
        shutil.copy(ROOT / name, copy)
    docker = tmp_path / "docker"
    for digest in ("sha256:" + "a1" * 32, "sha256:" + "b2" * 32):
        # As the reference of `docker image inspect` shows a digest: name@sha256:…
        docker.write_text(f"#!/bin/sh\necho some/name@{digest}\n", encoding="utf-8")
        docker.chmod(0o700)
        run("pin the images", places, PATH=f"{tmp_path}:{os.environ['PATH']}")
        for name, image in IMAGES.items():
            lines = (tmp_path / name).read_text(encoding="utf-8").split("\n")
            named = [line.split()[-1] for line in lines if f" {image}" in line]
            assert named == [f"{image}@{digest}"]


def test_certificate_of_the_guide_serves_the_group_of_two_machines(
    tmp_path: Path,
) -> None:
    run(
        "own certificate",
        {"-keyout ": f"-keyout {tmp_path}/", "-out ": f"-out {tmp_path}/"},
    )
    assert (tmp_path / "desk.example.key").stat().st_mode & 0o077 == 0
    # Two that are not there: nginx takes the block, and says that it got no answer.
    group = blocks()["upstream"]
    ports = (free_port(), free_port())
    for machine, port in zip(("10.0.0.11:8000", "10.0.0.12:8000"), ports, strict=True):
        assert machine in group
        group = group.replace(machine, f"127.0.0.1:{port}")
    with nginx(tmp_path, group=group) as (_, door), door.connect() as line:
        line.sendall(b"GET /live HTTP/1.1\r\nHost: desk.example\r\n\r\n")
        assert line.recv(4096).startswith(b"HTTP/1.1 502")
