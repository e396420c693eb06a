"""Notes on a sheet: words, a picture without what a phone writes into it, the seal."""

import hashlib
import io
import json
import random
import struct
import zlib

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from inspection.actions.notes.sheet_notes import note_on_sheet
from inspection.actions.race_nights import take_off_block
from inspection.files.pictures import (
    MOST_BYTES,
    MOST_BYTES_KEPT,
    PictureError,
    read_picture,
)
from inspection.loaders.seals.held_sheets import differences_of_night
from inspection.models import NotePicture, SheetNote
from inventory.actions.refusals import RefusedError
from inventory.models import AuditRow
from tests import builders
from tests.lifted import guards_lifted

#: Tags of the Exif standard (CIPA DC-008): orientation, maker, the block of a place.
ORIENTATION, MAKE, PLACE = 0x0112, 0x010F, 0x8825
NOTE = "the left lamp is glued, not clipped"


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def from_a_phone(form: str) -> bytes:
    """Give a picture that lies on its side and says where it was taken."""
    image = Image.new("RGB", (60, 40), "red")
    image.paste("blue", (0, 0, 30, 40))
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    exif[MAKE] = "Handset"
    exif.get_ifd(PLACE)[2] = (51.0, 28.0, 38.0)
    file = io.BytesIO()
    extra = {"comment": b"at home"} if form == "JPEG" else {}
    image.save(file, form, exif=exif, **extra)
    return file.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_picture_is_upright_and_says_nothing_but_itself(form: str) -> None:
    before = from_a_phone(form)
    assert opened(before).getexif()[MAKE] == "Handset"
    picture = read_picture(before)
    after = opened(picture.jpeg)
    assert after.format == "JPEG"
    assert (after.size, (picture.width, picture.height)) == ((40, 60), (40, 60))
    # Orientation 6: what was left in the file is on top.
    assert after.getpixel((20, 10))[2] > 200  # type: ignore[index]
    assert after.getpixel((20, 50))[0] > 200  # type: ignore[index]
    assert not after.getexif()
    assert set(after.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for word in (b"Handset", b"Exif", b"at home"):
        assert word not in picture.jpeg


def test_worst_picture_fits_in_a_mebibyte() -> None:
    """Noise, which no coding makes small."""
    noise = random.Random(7).randbytes(1600 * 1600 * 3)
    file = io.BytesIO()
    Image.frombytes("RGB", (1600, 1600), noise).save(file, "PNG", compress_level=1)
    picture = read_picture(file.getvalue())
    assert len(picture.jpeg) <= MOST_BYTES_KEPT
    assert opened(picture.jpeg).size == (picture.width, picture.height)


def test_large_picture_is_made_small_and_a_clear_one_gets_paper_behind_it() -> None:
    picture = read_picture(builders.picture(size=(4000, 3000), form="JPEG"))
    assert (picture.width, picture.height) == (1600, 1200)
    file = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(file, "PNG")
    after = opened(read_picture(file.getvalue()).jpeg)
    assert min(after.getpixel((10, 10))) > 250  # type: ignore[arg-type]


def png_that_says(width: int, height: int) -> bytes:
    """Give a PNG of a few bytes that would fill the memory (ISO/IEC 15948)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(1000)))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no picture at all",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        builders.picture(form="GIF"),
        builders.picture(form="BMP"),
        builders.picture(size=(400, 400), form="JPEG")[:300],
        png_that_says(11_000, 11_000),
        png_that_says(60_000, 60_000),
        bytes(MOST_BYTES + 1),
    ],
    ids=["none", "words", "svg", "gif", "bmp", "cut", "bomb", "huge", "heavy"],
)
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(PictureError):
        read_picture(data)


@pytest.mark.django_db
def test_note_is_in_the_seal_and_held_against_its_rows() -> None:
    scrutineer = builders.make_scrutineer()
    sheet = builders.make_sheet(by=scrutineer)
    note = note_on_sheet(
        sheet.number, f" {NOTE} ", picture=builders.picture(), act=builders.act()
    )
    note_on_sheet(sheet.number, "and the right one", act=builders.act(scrutineer))
    assert AuditRow.objects.filter(event="sheet.noted").count() == 2
    seal = builders.send_back(sheet.number, act=builders.act(minutes=3))
    first, second = json.loads(seal.content)["notes"]
    jpeg = bytes(NotePicture.objects.get(note=note).jpeg)
    assert first["text"] == NOTE
    assert first["picture"]["sha256"] == hashlib.sha256(jpeg).hexdigest()
    assert "picture" not in second
    assert second["by"]["id"] == scrutineer.pk
    assert differences_of_night(sheet.entry.night) == []
    with guards_lifted(SheetNote, NotePicture):
        SheetNote.objects.filter(pk=note.pk).update(text="nothing to see")
        NotePicture.objects.update(jpeg=builders.picture(colour="red"))
    said = " ".join(one.says for one in differences_of_night(sheet.entry.night))
    assert "nothing to see" in said
    assert "picture sha256" in said


@pytest.mark.django_db
def test_sheet_that_is_no_longer_open_takes_no_note() -> None:
    sealed, void = builders.make_sheet(), builders.make_sheet()
    builders.send_back(sealed.number, act=builders.act())
    take_off_block(void.entry_id, reason="wrong car", act=builders.act())
    for sheet, code in ((sealed, "sheet_sealed"), (void, "sheet_void")):
        with pytest.raises(RefusedError) as refusal:
            note_on_sheet(sheet.number, NOTE, act=builders.act())
        assert refusal.value.code == code
    assert not SheetNote.objects.exists()


@pytest.mark.django_db
def test_note_is_written_on_its_page_and_shown_to_the_driver() -> None:
    scrutineer, driver, stranger = Client(), Client(), Client()
    scrutineer.force_login(builders.make_scrutineer())
    sheet = builders.make_sheet()
    driver.force_login(sheet.entry.driver)
    stranger.force_login(builders.make_person())
    page = f"/sheet/{sheet.number}/note"
    assert page in scrutineer.get(f"/sheet/{sheet.number}/block").content.decode()
    no_picture = SimpleUploadedFile("lamp.png", b"not one")
    for said, words in (
        ({"text": " "}, "field"),
        ({"text": NOTE, "picture": no_picture}, "no picture that can be read"),
    ):
        refused = scrutineer.post(page, said)
        assert refused.status_code == 422
        assert words in refused.content.decode()
    assert NOTE in refused.content.decode()
    assert not SheetNote.objects.exists()
    file = SimpleUploadedFile("lamp.png", builders.picture())
    assert scrutineer.post(page, {"text": NOTE, "picture": file}).status_code == 302
    shown = f"/sheet/{sheet.number}/note/{SheetNote.objects.get().pk}.jpg"
    for address in (f"/sheet/{sheet.number}", f"/sheet/{sheet.number}/block"):
        words = scrutineer.get(address).content.decode()
        assert NOTE in words
        assert shown in words
    answer = driver.get(shown)
    assert answer["Content-Type"] == "image/jpeg"
    assert opened(answer.content).format == "JPEG"
    assert stranger.get(shown).status_code == 404
    builders.send_back(sheet.number, act=builders.act())
    assert NOTE in driver.get(f"/sheet/{sheet.number}").content.decode()
    assert scrutineer.get(page)["Location"] == f"/sheet/{sheet.number}"


@pytest.mark.django_db
def test_block_says_what_was_noted_and_the_notes_page_has_it() -> None:
    client = Client()
    client.force_login(builders.make_scrutineer())
    sheet = builders.make_sheet()
    page = f"/sheet/{sheet.number}/note"
    block = client.post(page, {"text": f"{NOTE}; " + "x" * 99}, follow=True)
    words = block.content.decode()
    said = words.split('id="status"')[1].split("</div>", maxsplit=1)[0]
    assert f"Noted: “{NOTE}; xx" in said
    assert "x…”." in said
    assert NOTE in client.get(page).content.decode()


@pytest.mark.django_db
def test_reason_of_a_send_back_that_no_rule_states_is_on_the_sheet() -> None:
    sheet = builders.make_sheet()
    builders.send_back(sheet.number, act=builders.act())
    driver = Client()
    driver.force_login(sheet.entry.driver)
    words = driver.get(f"/sheet/{sheet.number}").content.decode()
    assert "Sent back by the chief: The rear wheels rub on the body." in words
