"""Photos beside a run: the right way up, small, without the camera's secrets, and told in words where they cannot be shown."""

import base64
import io
import re
import shutil
import struct
import zlib

import pytest
from PIL import Image
from seasons import SEASON

from frothline import photo_file
from frothline.errors import InputError
from frothline.report.run import run_report
from frothline.trials import photos
from frothline.trials.notebook import open_notebook

RUN = "04-05-first-tube"
RED, GREY = (200, 20, 20), (120, 120, 120)
# TIFF 6.0, tag 274 Orientation, which Exif (CIPA DC-008) takes over: where the file's first row and first column are to
# be seen. 1: top, left. 2: top, right. 3: bottom, right. 4: bottom, left. 5: left, top. 6: right, top. 7: right, bottom.
# 8: left, bottom. So the corner in which the file begins is to be seen at:
CORNER = {
    1: "top left",
    2: "top right",
    3: "bottom right",
    4: "bottom left",
    5: "top left",
    6: "top right",
    7: "bottom right",
    8: "bottom left",
}
UPRIGHT = {5, 6, 7, 8}  # the first row is seen at a side: the picture stands


def exif(orientation, place=b""):
    """An Exif block by hand: a little-endian TIFF head and one directory with the orientation and a text."""
    text = place + b"\0"
    at = 8 + 2 + 2 * 12 + 4
    entries = struct.pack("<HHIHH", 274, 3, 1, orientation, 0) + struct.pack("<HHII", 270, 2, len(text), at)
    return b"Exif\0\0II*\0" + struct.pack("<IH", 8, 2) + entries + struct.pack("<I", 0) + text


def photo(size=(1200, 800), orientation=None, place=b"", kind="JPEG"):
    """A grey photo that begins with a red corner."""
    image = Image.new("RGB", size, GREY)
    image.paste(RED, (0, 0, size[0] // 2, size[1] // 2))
    written = io.BytesIO()
    image.save(written, kind, **({} if orientation is None else {"exif": exif(orientation, place)}))
    return written.getvalue()


def red_corner(jpeg):
    image = Image.open(io.BytesIO(jpeg))
    assert image.format == "JPEG"
    w, h = image.size
    corners = {"top left": (0.1, 0.1), "top right": (0.9, 0.1), "bottom left": (0.1, 0.9), "bottom right": (0.9, 0.9)}
    at = {name: image.getpixel((int(x * w), int(y * h))) for name, (x, y) in corners.items()}
    return [name for name, (r, g, _) in at.items() if r - g > 100]


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(SEASON / "builds", tmp_path / "builds")
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{RUN}{suffix}", tmp_path)
    return tmp_path


@pytest.mark.parametrize("orientation", CORNER)
def test_a_photo_is_turned_as_its_exif_says(tmp_path, orientation):
    (tmp_path / "a.jpg").write_bytes(photo(orientation=orientation))
    copy = photos.copy(tmp_path / "a.jpg")
    assert red_corner(copy.jpeg) == [CORNER[orientation]]
    # 1200 x 800 scaled to 360 keeps its proportion 3 : 2
    assert (copy.width, copy.height) == ((240, 360) if orientation in UPRIGHT else (360, 240))


def test_a_copy_does_not_tell_where_it_was_taken(tmp_path):
    (tmp_path / "a.jpg").write_bytes(photo(orientation=6, place=b"behind the red barn"))
    assert b"red barn" in (tmp_path / "a.jpg").read_bytes()
    jpeg = photos.copy(tmp_path / "a.jpg", photos.LARGE).jpeg
    assert b"red barn" not in jpeg
    assert b"Exif" not in jpeg


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_kinds_are_shown_too_and_nothing_is_made_larger(tmp_path, kind):
    path = tmp_path / f"a.{kind.lower()}"
    path.write_bytes(photo((90, 60), kind=kind))
    copy = photos.copy(path)
    assert (copy.width, copy.height) == (90, 60)
    assert red_corner(copy.jpeg) == ["top left"]


def test_what_is_clear_becomes_white_paper(tmp_path):
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(tmp_path / "a.png")
    assert Image.open(io.BytesIO(photos.copy(tmp_path / "a.png").jpeg)).getpixel((20, 20)) == (255, 255, 255)


def test_a_photo_that_was_replaced_is_shown_anew(tmp_path):
    path = tmp_path / "a.jpg"
    path.write_bytes(photo())
    before = photos.copy(path).jpeg
    Image.new("RGB", (50, 50), "white").save(path)
    assert photos.copy(path).jpeg != before


def huge_png(width, height):
    """Only its head, by the PNG specification (ISO/IEC 15948): a small file that would unpack to a very large picture."""

    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.heic", b"\0\0\0\x18ftypheic", "save it as jpeg"),
        ("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "cannot be shown"),
        ("a.jpg", b"<html><script>alert(1)</script></html>", "cannot be read"),
        ("b.jpg", photo(kind="PNG"), "cannot be read"),  # not what its name says
        ("a.png", huge_png(40_000, 40_000), "cannot be read"),
        ("b.png", huge_png(12_000, 12_000), "too many"),
        ("empty.jpg", b"", "cannot be read"),
    ],
)
def test_what_cannot_be_shown_is_told_in_words_beside_the_trial(folder, name, data, words):
    (folder / f"{RUN} {name}").write_bytes(data)
    (folder / f"{RUN}.toml").write_text(f'photos = "{RUN} {name}"\n' + (folder / f"{RUN}.toml").read_text())
    trial = open_notebook(folder).trial(RUN)
    assert trial.photos == ()
    (told,) = [text for text in trial.words if text.startswith("photo ")]
    assert words in told.lower()
    assert name in told
    with pytest.raises(InputError):
        photos.copy(folder / f"{RUN} {name}")


def test_a_file_that_is_too_large_is_not_read(tmp_path):
    with (tmp_path / "a.jpg").open("wb") as file:
        file.truncate(photo_file.LARGEST + 1)
    with pytest.raises(InputError, match="30 MB"):
        photos.copy(tmp_path / "a.jpg")


def test_a_torn_photo_is_said_to_be_damaged(tmp_path):
    whole = photo((2000, 1500))
    (tmp_path / "a.jpg").write_bytes(whole[: len(whole) // 2])
    assert photos.trouble(tmp_path / "a.jpg") == ""  # its head is whole
    with pytest.raises(InputError, match="damaged"):
        photos.copy(tmp_path / "a.jpg")


def test_photos_may_be_named_beside_the_run_and_a_missing_one_is_said(folder):
    (folder / "pictures").mkdir()
    (folder / "pictures" / "tub.jpg").write_bytes(photo())
    (folder / "elsewhere.jpg").write_bytes(photo())
    text = 'photos = ["pictures/tub.jpg", "gone.jpg", "../secret.jpg"]\n'
    (folder / f"{RUN}.toml").write_text(text + (folder / f"{RUN}.toml").read_text())
    trial = open_notebook(folder).trial(RUN)
    assert trial.as_dict()["photos"] == ["pictures/tub.jpg"]
    assert "photo gone.jpg: the file does not exist" in trial.words
    assert any("../secret.jpg" in text and "is not in the folder" in text for text in trial.words)


def test_a_link_out_of_the_folder_is_not_followed(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "secret.jpg"
    outside.write_bytes(photo())
    (folder / f"{RUN}-2.jpg").symlink_to(outside)
    trial = open_notebook(folder).trial(RUN)
    assert trial.photos == ()
    assert any("is not in the folder" in text for text in trial.words)


def test_a_report_holds_its_photos_the_right_way_up_and_small(folder):
    (folder / f"{RUN}.jpg").write_bytes(photo((4000, 3000), orientation=6, place=b"behind the red barn"))
    (folder / f"{RUN}-2.jpg").write_bytes(photo((2000, 1500))[:9000])
    html = run_report(open_notebook(folder), RUN).html
    (data,) = re.findall(r'<img src="data:image/jpeg;base64,([^"]+)"', html)
    jpeg = base64.b64decode(data)
    assert red_corner(jpeg) == ["top right"]
    assert max(Image.open(io.BytesIO(jpeg)).size) == 900
    assert b"red barn" not in jpeg
    assert f"{RUN}-2.jpg: it is damaged" in html
    assert html.count("<img") == html.count('alt="photo')


def test_a_name_of_a_photo_cannot_become_markup(folder):
    (folder / f'{RUN} "><script>.jpg').write_bytes(photo())
    html = run_report(open_notebook(folder), RUN).html
    assert "><script>.jpg" not in html.partition('<script type="application/json"')[0]


def test_a_small_file_that_would_fill_the_memory_is_refused(tmp_path):
    """A PNG of one colour has a thousandth of its size in memory: 10,900 x 11,000 pixels with transparency took 936 MB."""
    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", 7200, 7000, 8, 6, 0, 0, 0))
    path = tmp_path / "bomb.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + head + png_chunk(b"IDAT", b""))
    assert path.stat().st_size < 1_000_000
    assert "7200 x 7000 pixels, too many" in photos.trouble(path)
    with pytest.raises(InputError, match="too many"):
        photos.copy(path)


@pytest.mark.parametrize(
    ("progressive", "height", "refused"), [(True, 4100, True), (True, 3900, False), (False, 9800, False)]
)
def test_a_progressive_jpeg_that_would_fill_the_memory_is_refused(tmp_path, progressive, height, refused):
    """Its coefficients are kept as a whole: 118 million pixels took 356 MB, a usual one of that size 11 MB."""
    written = io.BytesIO()
    Image.new("RGB", (16, 16)).save(written, "JPEG", progressive=progressive)
    data = bytearray(written.getvalue())
    frame = data.index(b"\xff\xc2" if progressive else b"\xff\xc0")  # ITU-T T.81, B.2.2: SOF, height and width
    data[frame + 5 : frame + 9] = struct.pack(">HH", height, 12_200)
    path = tmp_path / "large.jpg"
    path.write_bytes(data)
    assert ("too many" in photos.trouble(path)) is refused


def png_chunk(name, content):
    """PNG, 5.3: length, name, content, CRC of name and content."""
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
