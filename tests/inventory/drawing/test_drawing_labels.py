"""Codes are read back by an independent reader, zxing-cpp, from what was drawn."""

import re

import numpy as np
import pytest
import zxingcpp
from numpy.typing import NDArray

from inventory.drawing.codes import QUIET, code_path, draw_code
from inventory.drawing.labels import CODE_MM, HEIGHT_MM, WIDTH_MM, Label, draw_label
from tests.inventory.drawings import assert_well_made, read, words

ADDRESS = "HTTPS://DESK.EXAMPLE.ORG/T/B7K29"


def painted(path: str, size: int, *, each: int = 6) -> NDArray[np.uint8]:
    """Paint the runs of a path, a module so many pixels wide."""
    image = np.full((size * each, size * each), 255, dtype=np.uint8)
    for found in re.finditer(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
        x, y, length = (int(part) * each for part in found.groups())
        image[y : y + each, x : x + length] = 0
    return image


@pytest.mark.parametrize(
    "address", [ADDRESS, "http://192.168.1.20:8000/invitations/aB3_x?y=1", "7"]
)
def test_code_reads_back(address: str) -> None:
    (found,) = zxingcpp.read_barcodes(painted(*code_path(address)))
    assert found.text == address


def test_code_has_its_quiet_zone() -> None:
    path, size = code_path(ADDRESS)
    image = painted(path, size, each=1)
    edge = np.ones_like(image, dtype=bool)
    edge[QUIET:-QUIET, QUIET:-QUIET] = False
    assert (image[edge] == 255).all()
    assert (image[QUIET, QUIET : QUIET + 7] == 0).all()


def test_code_on_a_label_has_modules_that_print() -> None:
    """P3: at least 0.45 mm a module; the tag's address in capitals is version 2."""
    _, size = code_path("HTTPS://DESK.EXAMPLE/T/B7K29")
    assert size == 25 + 2 * QUIET
    assert CODE_MM / size >= 0.45


def test_code_stays_dark_on_light() -> None:
    svg = draw_code(ADDRESS, words="Sheet 118 & more")
    assert_well_made(svg)
    assert 'fill="#fff"' in svg
    assert 'fill="#000"' in svg
    assert read(svg).get("aria-label") == "Sheet 118 & more"


def test_label_has_what_decides_largest_and_the_tag_beside_the_code() -> None:
    label = Label(
        tag="B7K29",
        address=ADDRESS,
        figure="20.62 / 20.60 mm",
        heading="soft <14>",
        lines=["0.02 mm apart", "drawer C4"],
    )
    svg = draw_label(label)
    assert_well_made(svg)
    said = "20.62 / 20.60 mm | B7K29 | soft <14> | 0.02 mm apart | drawer C4"
    assert words(svg) == said
    root = read(svg)
    texts = [e for e in root.iter() if e.tag.endswith("text")]
    assert max(texts, key=lambda e: float(e.get("font-size", 0))) is texts[0]
    assert root.get("width") == f"{WIDTH_MM:g}mm"
    path = next(e for e in root if "scale" in e.get("transform", ""))
    (found,) = zxingcpp.read_barcodes(painted(path.get("d", ""), 33 + 8))
    assert found.text == ADDRESS


@pytest.mark.parametrize("figure", ["", "26 T · 48 pitch"])
def test_label_with_too_many_words_stays_inside(figure: str) -> None:
    label = Label(
        tag="M4WXQPLONGTAG",
        address=ADDRESS,
        figure=figure,
        heading="A motor with a very long name",
        lines=["one two three four five six seven", "", "eight nine ten eleven", "x"],
    )
    svg = draw_label(label)
    texts = [e for e in read(svg).iter() if e.tag.endswith("text")]
    assert len(texts) <= 6
    assert all(float(e.get("y", "99")) < HEIGHT_MM for e in texts)
    assert words(svg).count("…") == 3


def test_label_holds_wide_letters_to_its_edge() -> None:
    wide = Label(tag="W" * 8, address=ADDRESS, heading="x", lines=["lllll", "M" * 18])
    texts = [e for e in read(draw_label(wide)).iter() if e.tag.endswith("text")]
    held = {e.text for e in texts if e.get("textLength")}
    assert held == {"W" * 8, "M" * 18}
    ends = [float(e.get("x", 0)) + float(e.get("textLength", 0)) for e in texts]
    assert max(ends) <= WIDTH_MM
