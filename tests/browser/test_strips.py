"""
Margin strips as they come out of the browser: on screen, in grey, and for paper.

What each shape means is held by geometry in tests of the drawing; here it is read off
the pixels, at every width that a page gives it.
"""

from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import Page

from inspection.compute.judging import Outcome
from inspection.drawing.strips import Margin, draw_margin_strip

CSS = Path(__file__).parents[2] / "inventory/static/inventory/feelerbook.css"
#: On the block, at 1,024 px, with figures, on paper (38 mm).
WIDTHS = (200, 160, 320, 144)
#: What was found against at least 0.60 with u = 0.03, and how that is drawn.
FOUND = {
    Outcome.PASS: (0.90, "over", "solid"),
    Outcome.CONDITIONAL_PASS: (0.62, "over", "hollow"),
    Outcome.CONDITIONAL_FAIL: (0.58, "under", "hollow"),
    Outcome.FAIL: (0.30, "under", "solid"),
}
PLACES = """() => [...document.querySelectorAll("svg.strip")].map(svg => {
  const box = svg.getBoundingClientRect();
  const of = svg.querySelector(".s-tip").getBBox();
  const scale = box.width / svg.viewBox.baseVal.width;
  const top = svg.viewBox.baseVal.y;
  // The middle of the pointer's body, and the base line.
  return {
    x: box.x + (of.x + of.width / 2) * scale,
    y: box.y + (of.y + of.height / 2 - top) * scale,
    line: box.y + (14 - top) * scale,
  };
})"""
MODES = (
    {"media": "screen", "color_scheme": "light"},
    {"media": "screen", "color_scheme": "dark"},
    {"media": "print", "color_scheme": "light"},
)


def strips() -> str:
    drawn = ""
    for width in WIDTHS:
        for outcome, (value, *_) in FOUND.items():
            margin = Margin(
                outcome=outcome,
                lower=0.60,
                value=value,
                u=0.03,
                guard_band=0.049,
                ordinary_guard=0.049,
                is_refused=outcome is Outcome.FAIL,
            )
            svg = draw_margin_strip(margin, places=2 if width >= 300 else None)
            svg = svg.replace("<svg ", f'<svg width="{width}" ')
            drawn += f'<p style="width:{width}px">{svg}</p>'
    return drawn


def test_strip_says_its_outcome_in_grey_and_on_paper(page: Page) -> None:
    page.set_content(
        f"<style>{CSS.read_text('utf-8')} .strip {{ width: 100% "
        f"!important; }}</style><body>{strips()}</body>"
    )
    expected = [(side, fill) for _ in WIDTHS for _value, side, fill in FOUND.values()]
    for mode in MODES:
        page.emulate_media(**mode)  # type: ignore[arg-type]
        seen = Image.open(BytesIO(page.screenshot(full_page=True))).convert("L")
        grey = np.asarray(seen, dtype=np.int64)
        paper = grey[2, 2]
        said = []
        for place in page.evaluate(PLACES):
            pixel = grey[round(place["y"]), round(place["x"])]
            side = "under" if place["y"] > place["line"] else "over"
            said.append((side, "solid" if abs(pixel - paper) > 90 else "hollow"))
        assert said == expected, mode
