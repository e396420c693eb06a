"""
Pictures as a phone sends them, written anew as a small JPEG.

What is written holds the picture alone: no place, no time, no device, no words.
Nothing is decoded before its size is known.
"""

import io
from dataclasses import dataclass
from typing import Final

from PIL import Image, ImageOps

#: What phones and cameras write.
_FORMATS: Final = ("JPEG", "PNG", "WEBP")
#: A file may be so large before, and is at most so large after.
MOST_BYTES: Final = 20 * 1024 * 1024
MOST_BYTES_KEPT: Final = 1024 * 1024
#: A phone's largest picture; more is no picture of a car.
MOST_PIXELS: Final = 120_000_000
_LONGEST_SIDE: Final = 1600
_QUALITIES: Final = (82, 70, 55)
_PAPER: Final = "white"


class PictureError(Exception):
    """A file that is no picture, or one that is too large; says which."""


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A JPEG and its size in pixels."""

    jpeg: bytes
    width: int
    height: int


def read_picture(data: bytes) -> Picture:
    """
    Write a picture anew: upright, at most 1600 pixels long, at most 1 MiB.

    Raises PictureError when it is no picture, too large, or does not decode.
    """
    if len(data) > MOST_BYTES:
        size = len(data) / 1024 / 1024
        msg = f"The picture is {size:.0f} MiB; at most 20 MiB are taken."
        raise PictureError(msg)
    try:
        with Image.open(io.BytesIO(data), formats=_FORMATS) as image:
            _refuse_bomb(image)
            return _written_anew(_flat(image))
    # A broken file ends in whatever its decoder meets first.
    except (
        OSError,
        SyntaxError,
        ValueError,
        Image.DecompressionBombError,
        Image.DecompressionBombWarning,
    ) as error:
        msg = "This file is no picture that can be read; a JPEG, PNG or WebP is."
        raise PictureError(msg) from error


def _refuse_bomb(image: Image.Image) -> None:
    if image.width * image.height > MOST_PIXELS:
        msg = (
            f"The picture is {image.width} × {image.height} pixels; at most "
            f"{MOST_PIXELS // 1_000_000} million are taken."
        )
        raise PictureError(msg)


def _flat(image: Image.Image) -> Image.Image:
    """Give the picture upright, small, in three colours and with nothing behind it."""
    size = (_LONGEST_SIDE, _LONGEST_SIDE)
    # A JPEG is decoded at a fraction of its size, where that is enough.
    image.draft("RGB", size)
    upright = ImageOps.exif_transpose(image).convert("RGBA")
    upright.thumbnail(size)
    flat = Image.new("RGB", upright.size, _PAPER)
    flat.paste(upright, mask=upright.getchannel("A"))
    return flat


def _written_anew(image: Image.Image) -> Picture:
    while True:
        for quality in _QUALITIES:
            file = io.BytesIO()
            image.save(file, "JPEG", quality=quality, optimize=True)
            if file.tell() <= MOST_BYTES_KEPT:
                return Picture(
                    jpeg=file.getvalue(), width=image.width, height=image.height
                )
        image = image.resize((image.width // 2, image.height // 2))
