"""The server of the shared installation, as far as a page would notice it."""

import http.client
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
IDLE_S = 3  # gunicorn's built-in limit is 2; a person types a reading in 4 to 6


def wait_until_listening(log: Path, process: "subprocess.Popen[bytes]") -> int:
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline and process.poll() is None:
        for line in log.read_text().splitlines():
            if "Listening at: http://127.0.0.1:" in line:
                return int(line.split("127.0.0.1:")[1].split()[0])
        time.sleep(0.1)
    raise AssertionError(log.read_text())


@pytest.mark.skipif(os.name == "nt", reason="gunicorn has no Windows")
def test_connection_outlives_the_pause_between_two_readings(tmp_path: Path) -> None:
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "FEELERBOOK_BIND": "127.0.0.1:0",
        "FEELERBOOK_WORKERS": "1",
    }
    log = tmp_path / "log"
    command = [sys.executable, "-m", "gunicorn", "--config=deploy/gunicorn_conf.py"]
    with log.open("wb") as file:
        process = subprocess.Popen(
            [*command, "deploy.wsgi"], cwd=ROOT, env=environment, stderr=file
        )
        try:
            port = wait_until_listening(log, process)
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
            connection.request("GET", "/live")
            assert connection.getresponse().read() == b"live\n"
            line = connection.sock
            time.sleep(IDLE_S)
            connection.request("GET", "/live")
            assert connection.getresponse().read() == b"live\n"
            assert connection.sock is line
            connection.close()
        finally:
            process.terminate()
            process.wait(timeout=40)
