"""Reading a drawing back: its elements, its words and what every drawing must have."""

import re
from xml.etree import ElementTree as ET

NAMESPACE = "{http://www.w3.org/2000/svg}"
#: W7: a drawing inside a page is at most this long.
MOST_BYTES = 30_000


def read(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - written by this project


def words(svg: str) -> str:
    """All that is written on the drawing, without title and description."""
    texts = read(svg).iter(f"{NAMESPACE}text")
    return " | ".join("".join(text.itertext()) for text in texts)


def described(svg: str) -> str:
    found = read(svg).find(f"{NAMESPACE}desc")
    return "" if found is None else found.text or ""


def with_pen(svg: str, pen: str) -> list[ET.Element]:
    """Give all elements drawn with a pen, in order."""
    groups = read(svg).iter(f"{NAMESPACE}g")
    return [e for group in groups if group.get("class") == pen for e in group]


def corners(path: ET.Element) -> list[tuple[float, float]]:
    """Give the corners of a path made of straight lines."""
    numbers = re.findall(r"-?[\d.]+", path.get("d", ""))
    values = [float(number) for number in numbers]
    return list(zip(values[::2], values[1::2], strict=True))


def numbers_in(svg: str) -> list[float]:
    """Give every coordinate, to see that none is lost to NaN or infinity."""
    text = re.sub(r"<(title|desc|text).*?</\1>", "", svg, flags=re.DOTALL)
    assert not re.search(r"\b(nan|inf)", text, flags=re.IGNORECASE)
    return [float(number) for number in re.findall(r"-?\d+\.?\d*", text)]


def assert_well_made(svg: str) -> None:
    """Hold a drawing to W7 and to the content security policy."""
    root = read(svg)
    assert root.get("role") == "img"
    title = root.find(f"{NAMESPACE}title")
    assert title is not None
    assert title.text
    assert "style=" not in svg
    assert "<style" not in svg
    assert "<script" not in svg
    assert len(svg.encode()) <= MOST_BYTES
    assert numbers_in(svg)
