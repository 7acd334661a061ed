"""Photos come last and in pieces, are looked at, and are kept without what a camera adds."""

from __future__ import annotations

import hashlib
import io
import shutil

import pytest
from PIL import Image

from benchwalk.records.database import folder_of, open_database
from benchwalk.records.photos import LARGEST, PIECE, kept_at
from benchwalk.web import Served, create_app
from tests.capture.a_phone import APhone
from tests.records.small_operation import NINE
from tests.web.conftest import asking, kept_to_its_operation, listening

GPS, ORIENTATION = 0x8825, 0x0112


@pytest.fixture(scope="module")
def phone(sqlite_template, tmp_path_factory):
    path = tmp_path_factory.mktemp("photos") / "benchwalk.sqlite"
    shutil.copy(sqlite_template, path)
    engine = open_database(f"sqlite:///{path}")
    yield APhone(engine)
    engine.dispose()


@pytest.fixture(scope="module")
def client(phone):
    app = create_app(Served(phone.engine, phone.n))
    with (
        kept_to_its_operation(phone.engine),
        listening(app) as url,
        asking(url, headers={"authorization": f"Bearer {phone.token}"}) as client,
    ):
        yield client


def a_picture(form="JPEG", size=(64, 48), **said):
    out = io.BytesIO()
    noise = Image.effect_noise(size, 90).convert("RGB")
    noise.save(out, form, **said)
    return out.getvalue()


def named(phone, content):
    """A sighting that names these bytes has arrived; their name."""
    digest = hashlib.sha256(content).hexdigest()
    body = {"unit_id": phone.unit, "seen_at": NINE.isoformat(), "cause": "not_known"}
    assert phone.sends(phone.item("sighting", body | {"photo_sha256": digest})) == ["applied"]
    return digest


def put(client, digest, piece, at, of):
    return client.put(f"/api/v1/photos/{digest}", params={"at": at, "of": of}, content=piece)


def kept(phone, digest):
    return kept_at(folder_of(phone.engine), digest)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_photo_comes_in_pieces_and_goes_on_where_it_stopped(phone, client, form):
    content = a_picture(form, (420, 300))
    digest = named(phone, content)
    path, half = f"/api/v1/photos/{digest}", len(content) // 2
    assert client.get(path).json() == {"have": 0, "done": False}
    assert put(client, digest, content[:half], 0, len(content)).json() == {
        "have": half,
        "done": False,
    }
    assert client.get(path).json() == {"have": half, "done": False}
    again = put(client, digest, content[:half], 0, len(content))
    assert (again.status_code, again.json()["have"]) == (409, half)
    done = put(client, digest, content[half:], half, len(content))
    assert done.json() == {"have": len(content), "done": True}
    assert client.get(path).json()["done"]
    with Image.open(kept(phone, digest)) as picture:
        assert (picture.format, picture.size) == ("JPEG", (420, 300))


def test_position_and_camera_stay_behind_and_the_picture_stands_upright(phone, client):
    """Oracle: Exif 2.3, orientation 6 is turned a quarter clockwise to be seen."""
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    exif.get_ifd(GPS)[1] = "N"
    content = a_picture(exif=exif, comment=b"by the door of the second house")
    digest = named(phone, content)
    assert put(client, digest, content, 0, len(content)).json()["done"]
    held = kept(phone, digest).read_bytes()
    assert b"Exif" not in held
    assert b"door" not in held
    with Image.open(io.BytesIO(held)) as picture:
        assert picture.size == (48, 64)
        assert not picture.getexif()


@pytest.mark.parametrize(
    "content",
    [b"<svg/>", b"GIF89a" + bytes(40), a_picture()[:200], a_picture("BMP"), b"\xff\xd8\xff"],
    ids=["svg", "gif", "cut", "bmp", "head"],
)
def test_what_is_no_photo_is_dropped_and_the_record_stays(phone, client, content):
    digest = named(phone, content)
    answer = put(client, digest, content, 0, len(content))
    assert (answer.status_code, answer.json()["error"]) == (422, "not_a_photo")
    assert client.get(f"/api/v1/photos/{digest}").json() == {"have": 0, "done": False}
    assert not kept(phone, digest).exists()


def test_a_picture_of_too_many_pixels_is_not_decoded(phone, client):
    out = io.BytesIO()
    Image.new("1", (8000, 8000)).save(out, "PNG")
    content = out.getvalue()
    digest = named(phone, content)
    assert put(client, digest, content, 0, len(content)).status_code == 422


def test_bytes_that_are_not_those_of_the_name_are_dropped(phone, client):
    content = a_picture()
    digest = named(phone, b"other" + content)
    assert put(client, digest, content, 0, len(content)).status_code == 422
    assert not kept(phone, digest).exists()


def test_a_photo_that_no_record_names_is_not_taken(phone, client):
    content = a_picture()
    digest = hashlib.sha256(content).hexdigest()
    assert client.get(f"/api/v1/photos/{digest}").status_code == 404
    assert put(client, digest, content, 0, len(content)).status_code == 404
    other = APhone(phone.engine)
    named(other, content)
    assert put(client, digest, content, 0, len(content)).status_code == 404


def test_pieces_and_photos_have_a_size(phone, client):
    digest = named(phone, b"large")
    for piece, of in ((bytes(PIECE + 1), PIECE * 2), (b"x", LARGEST + 1)):
        answer = put(client, digest, piece, 0, of)
        assert (answer.status_code, answer.json()["error"]) == (413, "too_large")
    assert put(client, digest, b"xx", 0, 1).status_code == 409


@pytest.mark.parametrize("name", ["..%2f..%2fkeys", "A" * 64, "0" * 63, "0" * 65, "%00"])
def test_a_name_that_is_no_digest_reaches_no_file(client, name):
    assert client.get(f"/api/v1/photos/{name}").status_code in (404, 422)
    assert put(client, name, b"x", 0, 1).status_code in (404, 422)


def test_without_the_token_of_a_phone_nothing_is_said(client, phone):
    digest = named(phone, b"secret")
    for headers in ({"authorization": ""}, {"authorization": "Bearer x"}):
        assert client.get(f"/api/v1/photos/{digest}", headers=headers).status_code == 401
        answer = client.put(f"/api/v1/photos/{digest}?at=0&of=1", headers=headers, content=b"x")
        assert answer.status_code == 401
