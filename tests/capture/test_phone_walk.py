"""A scout with a phone: paired, signed in, a walk, its plants, and what arrives of them."""

from __future__ import annotations

import hashlib
import io
import json
import random
import re

import pytest
import sqlalchemy as sa
from PIL import Image
from playwright.sync_api import expect

import benchwalk.records as r
from benchwalk.records.database import folder_of, session
from benchwalk.records.photos import have
from benchwalk.web import Served, capture_pages, create_app
from tests.capture import on_the_phone as on
from tests.capture.a_greenhouse import AGreenhouse
from tests.web.conftest import listening

pytestmark = pytest.mark.browser
LARVA = "Western flower thrips, larva"
MITE = "Two-spotted spider mite, egg"
GNAT = "Fungus gnat .sciarid., larva"
NO_PHOTO = """async () => {
  const got = (r) => new Promise((on, no) => { r.onsuccess = () => on(r.result); r.onerror = no; });
  const db = await got(indexedDB.open("benchwalk-photos"));
  const left = await got(db.transaction("records").objectStore("records").count());
  db.close();
  return left === 0;
}"""
POSTED = """async () => (await fetch("/api/v1/sync", { method: "POST", body: "{}" })).status"""


@pytest.fixture(scope="module")
def greenhouse(tmp_path_factory, sqlite_template):
    made = AGreenhouse(tmp_path_factory.mktemp("greenhouse"), sqlite_template)
    yield made
    made.engine.dispose()


@pytest.fixture(scope="module")
def url(greenhouse):
    with listening(create_app(Served(greenhouse.engine, greenhouse.n))) as address:
        yield address


@pytest.fixture(scope="module")
def signed_in(chromium, url, greenhouse):
    context = chromium.new_context(viewport={"width": 390, "height": 844}, locale="en-US")
    made = context.new_page()
    made.set_default_timeout(on.PATIENCE)
    on.pair(made, url, greenhouse.pairing())
    on.sign_in(made)
    yield made
    context.close()


@pytest.fixture
def page(signed_in, url):
    """The page on a walk of its own."""
    signed_in.goto(f"{url}/phone/#/walks")
    on.begin_walk(signed_in)
    return signed_in


class Came:
    """What is in the records of the walk that the page is on, once all is sent."""

    def __init__(self, page, greenhouse) -> None:
        on.all_sent(page)
        with session(greenhouse.engine, greenhouse.n) as s:
            walk = s.scalars(sa.select(r.Walk).order_by(r.Walk.id.desc())).first()
            of_walk = r.Observation.walk_id == walk.id
            self.looks = s.scalars(
                sa.select(r.Observation).where(of_walk).order_by(r.Observation.id)
            ).all()
            self.visits = {
                v.unit_id: v
                for v in s.scalars(sa.select(r.Visit).where(r.Visit.walk_id == walk.id))
            }
            self.said = s.scalars(sa.select(r.Ledger).order_by(r.Ledger.seq)).all()
            self.flags = s.scalars(sa.select(r.Flag)).all()
            self.plantings = s.scalars(sa.select(r.Planting).where(r.Planting.provisional)).all()
            self.sightings = s.scalars(sa.select(r.Sighting)).all()

    def tallies(self, n: int) -> dict[tuple[str, str], int | None]:
        return {(t.taxon, t.stage): t.number for e in self.looks[n].examined for t in e.tallies}


@pytest.fixture
def came(page, greenhouse):
    return lambda: Came(page, greenhouse)


def press(page, words, times=1):
    for n in range(times):
        on.key(page, words).click()
        expect(on.key(page, words).locator(".n")).to_have_text(str(n + 1))
        page.wait_for_timeout(75)  # a finger is no faster than the filter of bounces


def test_from_pairing_to_the_records(page, came, greenhouse):
    on.enter(page, "Bench 1")
    press(page, LARVA)
    on.next_plant(page, 2)
    on.next_plant(page, 3)
    said = came()
    assert [sum(said.tallies(n).values()) for n in range(2)] == [1, 0]
    assert len(said.tallies(0)) == 6
    assert said.visits[greenhouse.units[0]].state == "open"
    assert {look.why for look in said.looks} == {"sample"}


def test_a_part_not_checked_has_no_zero(page, came):
    on.enter(page, "Bench 2")
    page.get_by_role("button", name="roots").click()
    on.next_plant(page, 2)
    said = came()
    assert ("fungus_gnat", "larva") not in said.tallies(0)
    assert len(said.tallies(0)) == 5


def test_a_part_with_counts_was_examined(page):
    on.enter(page, "Bench 2")
    press(page, GNAT)
    page.get_by_role("button", name="roots").click()
    expect(page.get_by_role("alert")).to_contain_text("Something is counted there")


def test_undo_says_what_it_takes_back_and_opens_the_last_plant_as_a_new_rev(page, came):
    on.enter(page, "Bench 1")
    press(page, MITE, 2)
    undo = page.get_by_role("button", name=on.UNDO)
    expect(undo).to_contain_text("Two-spotted spider mite: egg, 2 to 1")
    undo.click()
    expect(undo).to_contain_text("1 to 0")
    on.next_plant(page, 2)
    expect(undo).to_contain_text("open plant 1 again")
    on.all_sent(page)
    undo.click()
    expect(page.locator(".plant")).to_have_text("Plant 1")
    press(page, LARVA)
    on.next_plant(page, 2)
    said = came()
    assert [(look.rev, sum(said.tallies(0).values())) for look in said.looks] == [(2, 2)]


def test_clean_plants_are_one_look_and_can_be_taken_back(page, came):
    on.enter(page, "Bench 1")
    page.get_by_role("button", name=on.CLEAN).click()
    expect(page.locator(".plant")).to_have_text("Plant 6")
    said = came()
    assert [look.plants for look in said.looks] == [5]
    assert set(said.tallies(0).values()) == {0}
    page.get_by_role("button", name=on.UNDO).click()
    expect(page.locator(".plant")).to_have_text("Plant 1")
    assert came().looks == []
    assert came().said[-1].void_reason == "undone"


def test_seen_at_least_and_ten_are_for_the_next_key_only(page, came):
    on.enter(page, "Bench 1")
    page.get_by_role("button", name="+10").click()
    on.key(page, LARVA).click()
    expect(on.key(page, LARVA).locator(".n")).to_have_text("10")
    page.get_by_role("button", name="At least").click()
    page.wait_for_timeout(75)
    on.key(page, LARVA).click()
    expect(on.key(page, LARVA).locator(".n")).to_have_text("10+")
    page.get_by_role("button", name="Seen, not counted").click()
    on.key(page, MITE).click()
    expect(on.key(page, MITE).locator(".n")).to_have_text("seen")
    on.next_plant(page, 2)
    how = {
        (t.stage, t.method): (t.how, t.number) for e in came().looks[0].examined for t in e.tallies
    }
    assert how["larva", "plant_count"] == ("at_least", 10)
    assert how["egg", "leaf_count"] == ("present", None)


def test_a_plant_half_done_is_there_after_a_restart(page, url):
    on.enter(page, "Bench 3")
    press(page, LARVA, 2)
    page.goto("about:blank")
    page.goto(f"{url}/phone/")
    expect(on.key(page, LARVA).locator(".n")).to_have_text("2")
    expect(page.locator(".plant")).to_have_text("Plant 1")


def test_a_plant_half_done_waits_in_its_unit_while_another_is_walked(page):
    on.enter(page, "Bench 1")
    press(page, LARVA, 2)
    page.get_by_role("link", name="Stops").click()
    on.enter(page, "Bench 2")
    on.next_plant(page, 2)
    page.get_by_role("link", name="Stops").click()
    page.get_by_role("link", name="End the walk").click()
    expect(page.locator("section.caution")).to_contain_text("Plant 1 is not finished")
    page.get_by_role("button", name="Go on with it").click()
    expect(on.key(page, LARVA).locator(".n")).to_have_text("2")


def test_three_counts_of_one_and_next_are_four_taps(page, came):
    on.enter(page, "Bench 1")
    taps = [on.key(page, LARVA), on.key(page, MITE), on.key(page, GNAT)]
    for tap in taps:
        tap.click()
    page.get_by_role("button", name=on.NEXT).click()
    expect(page.locator(".plant")).to_have_text("Plant 2")
    assert sum(came().tallies(0).values()) == 3
    assert len(taps) + 1 == 4


def test_every_stop_is_said_at_the_end_of_the_walk(page, came, greenhouse):
    page.get_by_role("link", name="Skip").first.click()
    page.get_by_role("button", name="sign is up").click()
    on.enter(page, "Bench 2")
    on.next_plant(page, 2)
    on.next_plant(page, 3)
    on.next_plant(page, 4)
    page.get_by_role("link", name="End this unit").click()
    page.get_by_role("button", name="Done: go to the stops").click()
    page.get_by_role("link", name="End the walk").click()
    page.get_by_role("button", name="out of time").click()
    expect(page.get_by_role("heading", name="Walks")).to_be_visible()
    said = came()
    states = [(said.visits[u].state, said.visits[u].reason) for u in greenhouse.units]
    assert states == [("skipped", "sign"), ("done", None), ("skipped", "time")]
    assert said.visits[greenhouse.units[1]].fast is True


def test_another_crop_is_a_planting_the_office_has_to_confirm(page, came, greenhouse):
    page.get_by_role("link", name="Skip").nth(2).click()
    page.get_by_role("button", name="another crop now").click()
    page.get_by_label("Crop that stands there").select_option("poinsettia")
    page.get_by_role("button", name="Skip this stop").click()
    expect(page.get_by_role("heading", name=re.compile("^Walk,"))).to_be_visible()
    said = came()
    assert [(p.unit_id, p.crop) for p in said.plantings] == [(greenhouse.units[2], "poinsettia")]
    assert said.visits[greenhouse.units[2]].reason == "another_crop"


def test_a_card_found_by_its_code_is_read_and_a_new_one_hung(page, came, greenhouse):
    on.enter(page, "Bench 1")
    page.get_by_role("link", name="Cards and discs").click()
    page.get_by_label("Code on the card or post").fill("1y")
    page.get_by_role("link", name="S1-Y").click()
    page.get_by_label("Squares counted").fill("10")
    page.get_by_label("of squares printed").fill("40")
    page.locator("button.key").first.click()
    page.get_by_label("A new card hangs there now").check()
    page.get_by_role("button", name="Save the reading").click()
    expect(page.get_by_role("heading", name="Cards and discs")).to_be_visible()
    (look,) = came().looks
    (part,) = look.examined
    assert (look.kind, look.state, look.since, look.counted) == ("reading", "ok", "hung", "all")
    assert (part.items, part.of_items, part.tallies[0].number) == (10, 40, 1)
    with session(greenhouse.engine, greenhouse.n) as s:
        cards = s.scalars(sa.select(r.Card).where(r.Card.method == "yellow_card")).all()
        assert sorted(card.taken_at is None for card in cards) == [False, True]


def test_a_disc_past_its_hours_is_void_and_no_zero(page, came, greenhouse):
    on.enter(page, "Bench 1")
    page.get_by_role("link", name="Cards and discs").click()
    page.get_by_role("link", name="S1-P").click()
    page.get_by_role("button", name="Void it and take it out").click()
    expect(page.get_by_role("heading", name="Cards and discs")).to_be_visible()
    said = came()
    assert said.looks == []
    void = [x for x in said.said if x.kind == "observation" and x.void_reason]
    assert re.match(r"read after \d+ h; void after 72 h", void[-1].void_reason)


def test_a_flag_is_confirmed_and_another_is_set(page, came, greenhouse):
    on.enter(page, "Bench 1")
    page.get_by_role("link", name="Flag").click()
    page.get_by_role("button", name="Still needed").first.click()
    on.next_plant(page, 2)
    page.get_by_role("link", name="Flag").click()
    page.get_by_label("Why the flag").fill("hot spot")
    page.get_by_role("button", name="Put a flag").click()
    on.next_plant(page, 3)
    said = came()
    assert [(look.flag_mark, look.why) for look in said.looks] == [
        ("confirmed", "flagged"),
        ("set", "sample"),
    ]
    assert said.looks[0].flag_id == greenhouse.flag


def test_something_unlooked_for_is_said_in_words(page, came):
    page.get_by_role("link", name="Note something unlooked-for").click()
    page.get_by_label("In words").fill("leaves silvered at the door")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name=re.compile("^Walk,"))).to_be_visible()
    assert came().sightings[-1].words == "leaves silvered at the door"


def test_a_photo_of_a_sighting_arrives_in_pieces_after_its_record(page, came, greenhouse):
    noise = random.Random(1).randbytes(400 * 300 * 3)
    picture = io.BytesIO()
    Image.frombytes("RGB", (400, 300), noise).save(picture, "PNG")  # 360 kB: two pieces
    file = {"name": "a.png", "mimeType": "image/png", "buffer": picture.getvalue()}
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.method) if "/photos/" in r.url else None)
    page.get_by_role("link", name="Note something unlooked-for").click()
    page.get_by_label("In words").fill("with a photo")
    page.get_by_label("Photo").set_input_files(files=[file])
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", name=re.compile("^Walk,"))).to_be_visible()
    on.until(page, NO_PHOTO)
    sighting = came().sightings[-1]
    assert sighting.photo_sha256 == hashlib.sha256(picture.getvalue()).hexdigest()
    assert have(folder_of(greenhouse.engine), sighting.photo_sha256)[1]
    assert asked == ["GET", "PUT", "PUT"]


def test_another_person_takes_the_phone_and_each_look_says_whose_it_is(page, came, greenhouse):
    on.enter(page, "Bench 1")
    on.next_plant(page, 2)
    page.locator("a.unsent").click()
    page.get_by_role("link", name="Another person").click()
    page.get_by_label("Name to sign in with").fill("second@here")
    page.get_by_label("PIN, 6 digits").fill("482915")
    page.get_by_role("button", name="Sign in").click()
    on.enter(page, "Bench 2")
    on.next_plant(page, 2)
    said = came()
    by = {row.id: row.by_id for row in said.said}
    assert [by[look.id] for look in said.looks] == [greenhouse.scout, greenhouse.second]
    page.locator("a.unsent").click()
    page.get_by_role("link", name="Another person").click()
    page.get_by_role("button", name="Scout A").click()  # no network is asked for
    expect(page.locator("main > p")).to_contain_text("· Scout A")


def test_what_is_unsent_can_be_saved_to_a_file(page):
    page.context.set_offline(True)
    on.enter(page, "Bench 1")
    on.next_plant(page, 2)
    page.locator("a.unsent").click()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save to a file").click()
    page.context.set_offline(False)
    held = json.loads(saved.value.path().read_text(encoding="utf-8"))
    assert held["file"] == "benchwalk-phone"
    assert "observation" in {item["kind"] for item in held["items"]}


def a_posted_request_reaches_the_server(page) -> bool:
    """The server refuses it, since it shows no token: nothing else may have answered."""
    on.kept_for_later(page)
    return page.evaluate(POSTED) == 401


def test_the_worker_leaves_what_is_posted_alone(page):
    assert a_posted_request_reaches_the_server(page)


def test_a_worker_that_answers_what_is_posted_would_be_found(chromium, greenhouse, monkeypatch):
    held = dict(capture_pages.shell())
    worker = held["sw.js"].content.decode()
    asked = 'if (method !== "GET" || '
    assert asked in worker
    answers = 'if (method === "POST") return event.respondWith(new Response("{}")); if ('
    held["sw.js"] = held["sw.js"]._replace(content=worker.replace(asked, answers).encode())
    monkeypatch.setattr(capture_pages, "shell", lambda: held)
    with listening(create_app(Served(greenhouse.engine, greenhouse.n))) as url:
        page = chromium.new_context().new_page()
        on.ready(page, url)
        assert not a_posted_request_reaches_the_server(page)
        page.context.close()


def test_the_address_of_a_pairing_fills_in_its_code(url, page):
    code = "a" * 32
    page.goto("about:blank")
    page.goto(f"{url}/pair#{code}")
    expect(page.get_by_label("Pairing code")).to_have_value(code)
    assert page.url.startswith(f"{url}/phone/")
    page.goto("about:blank")  # the next test begins with the page anew
