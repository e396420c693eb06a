"""The style sheet's contrast, by WCAG 2.2's own formula, in both themes (U3)."""

import re
from pathlib import Path

import pytest

from inventory.drawing.svg import Pen

SHEET = Path("inventory/static/inventory/feelerbook.css").read_text(encoding="utf-8")
TEMPLATES = [
    *Path("inventory/templates/inventory/pieces").glob("*.html"),
    *Path("deploy/templates").glob("*.html"),
]


def theme(opening: str) -> dict[str, str]:
    start = SHEET.index(opening)
    block = SHEET[start : SHEET.index("}", start)]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))


LIGHT = theme(":root {")
DARK = theme(':root[data-theme="dark"] {')


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in parts
    )
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_formula_gives_the_published_extremes() -> None:
    # WCAG 2.2: contrast ratios range from 1 to 21; #767676 on white is 4.54.
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == pytest.approx(1.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("tokens", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "tint"])
@pytest.mark.parametrize(
    ("token", "least"),
    [("ink", 7.0), ("accent", 7.0), ("faint", 4.5), ("control", 3.0)],
)
def test_contrast_on_the_ground(
    tokens: dict[str, str], ground: str, token: str, least: float
) -> None:
    assert contrast(tokens[token], tokens[ground]) >= least


@pytest.mark.parametrize("tokens", [LIGHT, DARK], ids=["light", "dark"])
def test_contrast_of_other_pairs(tokens: dict[str, str]) -> None:
    assert contrast(tokens["on-ink"], tokens["ink"]) >= 7
    assert contrast(tokens["accent"], tokens["accent-tint"]) >= 7
    assert contrast(tokens["ink"], tokens["accent-tint"]) >= 7
    assert contrast(tokens["on-ink"], tokens["faint"]) >= 4.5


def test_dark_theme_is_the_same_by_device_and_by_choice() -> None:
    assert theme(':root:not([data-theme="light"]) {') == DARK
    assert LIGHT.keys() == DARK.keys()


def test_print_is_light_whatever_the_theme() -> None:
    """Both dark blocks stand inside a query for screens (U14)."""
    assert SHEET.count("  color-scheme: dark;") == 2
    for start in (m.start() for m in re.finditer("  color-scheme: dark;", SHEET)):
        opened = SHEET.rindex("@media", 0, start)
        assert SHEET[opened:].startswith("@media screen")


def test_sheet_asks_nothing_of_another_host() -> None:
    assert "url(" not in SHEET
    assert "@import" not in SHEET
    assert "@font-face" not in SHEET


@pytest.mark.parametrize("pen", list(Pen))
def test_each_pen_has_its_rule(pen: Pen) -> None:
    assert re.search(rf"\.{pen} {{", SHEET)


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_templates_have_no_inline_style_or_script(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert " style=" not in text
    assert "<style" not in text
    assert not re.search(r"\son\w+=", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
