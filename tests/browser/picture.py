"""
Make the README's picture from the running program.

    .venv/bin/python -m tests.browser.picture

Starts the demo club on a free port in a folder of its own, signs in as one of its
scrutineers, opens the car on the block and keeps what the browser shows.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[2]
PICTURE = ROOT / "deploy" / "pictures" / "block.png"
SCRUTINEER = "hector"


def main() -> None:
    PICTURE.parent.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "deploy/start.py", "--port", "0", "--data", folder]
        server = subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, text=True, bufsize=1
        )
        try:
            address, password = announced(server)
            take(address, password)
        finally:
            server.terminate()
            server.wait(timeout=30)


def announced(server: "subprocess.Popen[str]") -> tuple[str, str]:
    """Read the address and the demo's password off what the start prints."""
    address = password = ""
    assert server.stdout is not None
    for line in server.stdout:
        if found := re.search(r"http://\S+", line):
            address = found[0]
        if found := re.search(r"password of all: (\S+)", line):
            password = found[1]
        if address and password and SCRUTINEER in line:
            return address, password
    msg = "The server ended before it said where it serves."
    raise SystemExit(msg)


def take(address: str, password: str) -> None:
    program = shutil.which("chromium") or shutil.which("chrome")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(
            base_url=address, viewport={"width": 1280, "height": 900}
        )
        page.goto("/sign-in")
        page.fill("input[name=username]", SCRUTINEER)
        page.fill("input[name=password]", password)
        page.click("main button")
        page.wait_for_url(lambda url: "sign-in" not in url)
        page.click("a.row-link[href^='/sheet'][href$='/block']")
        page.wait_for_url("**/block")
        page.screenshot(path=PICTURE)
        browser.close()


if __name__ == "__main__":
    main()
