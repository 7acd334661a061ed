"""The phone's own reckoning, in the modules that need no page: what a plant says, keys, advice.

Oracles are worked by hand here, or are what the records themselves demand (`records.rules`).
"""

# ruff: noqa: E501 - a script of a module reads better unbroken

from __future__ import annotations

import json
import re
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchwalk.catalogue import strings
from benchwalk.web.capture_pages import shell

pytestmark = pytest.mark.browser
ORIGIN = "http://localhost:9754"
STATIC = files("benchwalk.web.capture") / "static"
METHODS = ("plant_count", "leaf_count", "root_inspection", "flower_count")
TARGETS = st.lists(
    st.tuples(
        st.sampled_from(METHODS), st.sampled_from("abcde"), st.sampled_from(("egg", "larva"))
    ),
    min_size=1,
    max_size=12,
    unique=True,
)
SETS = st.sets(st.sampled_from(METHODS))
NOTHING_UNCHECKED = {".filter((method) => !draft.unchecked.includes(method))": ""}


class Modules:
    """The modules in a page of their own; ``broken`` replaces text of them, for what must fail."""

    def __init__(self, chromium, broken: dict[str, str] | None = None) -> None:
        self.page = chromium.new_page()
        self.broken, self.replaced = broken or {}, 0
        self.page.route("**/*", self._serve)
        self.page.goto(ORIGIN)

    def _serve(self, route) -> None:
        name = route.request.url.removeprefix(ORIGIN).strip("/")
        if not name.endswith(".js"):
            route.fulfill(body="<!doctype html>", content_type="text/html")
            return
        text = (STATIC / name).read_text(encoding="utf-8")
        for old, new in self.broken.items():
            self.replaced += old in text
            text = text.replace(old, new)
        route.fulfill(body=text, content_type="text/javascript")

    def run(self, module: str, script: str, *args):
        """A script that is given a module as ``m`` and the arguments as ``a``."""
        code = f"async (a) => {{ const m = await import('/{module}'); return {script}; }}"
        return self.page.evaluate(code, list(args))


@pytest.fixture(scope="module")
def modules(chromium):
    made = Modules(chromium)
    yield made
    made.page.close()


def said_of(modules, targets, unchecked, pressed):
    """The body of a look of targets, where some parts were not checked and some keys pressed."""
    rows = [{"method": m, "taxon": t, "stage": s} for m, t, s in targets]
    script = """(() => {
      let d = m.newDraft({ id: "1", by: "2", walk_id: "3", unit_id: "4", n: 1, began: 0 });
      for (const method of a[1]) d = m.toggled(d, method);
      for (const i of a[2]) d = m.add(d, m.keyOf(a[0][i]));
      return { body: m.bodyOf(d, a[0], "t"), again: m.bodyOf(m.reopened(
        { id: "1", rev: 1, by: "2", seen_at: "t", body: m.bodyOf(d, a[0], "t") }, a[0], 1, 0), a[0], "t") };
    })()"""
    return modules.run("look.js", script, rows, sorted(unchecked), pressed)


def tallies(body):
    return [(e["method"], t) for e in body["examined"] for t in e["tallies"]]


def zeros_are_those_of_what_was_examined(modules, targets, unchecked, pressed):
    """Pressed keys were examined, whatever was said before; all else in examined parts is zero."""
    said = said_of(modules, targets, unchecked, pressed)
    counted = {targets[i] for i in pressed}
    examined = {m for m, _, _ in targets} - (unchecked - {m for m, _, _ in counted})
    wanted = {t for t in targets if t[0] in examined} - counted
    zeros = {(m, t["taxon"], t["stage"]) for m, t in tallies(said["body"]) if t["number"] == 0}
    assert zeros == wanted
    assert {e["method"] for e in said["body"]["examined"]} == examined
    assert said["again"] == said["body"]


@settings(max_examples=60)
@given(targets=TARGETS, unchecked=SETS, data=st.data())
def test_zeros_are_written_for_the_targets_whose_part_was_examined(
    modules, targets, unchecked, data
):
    pressed = data.draw(st.lists(st.integers(0, len(targets) - 1), max_size=5))
    zeros_are_those_of_what_was_examined(modules, targets, unchecked, pressed)


def test_zeros_for_everything_would_be_found(chromium):
    broken = Modules(chromium, NOTHING_UNCHECKED)
    targets = [("leaf_count", "a", "egg"), ("root_inspection", "b", "larva")]
    with pytest.raises(AssertionError, match="root_inspection"):
        zeros_are_those_of_what_was_examined(broken, targets, {"root_inspection"}, [0])
    assert broken.replaced == 1
    broken.page.close()


def test_clean_plants_say_zeros_and_items_of_all_of_them(modules):
    script = """m.bodyOf({ ...m.newDraft({ id: "1", by: "2", walk_id: "3", unit_id: "4", n: 1, began: 0,
      items: { leaf_count: 3 } }), plants: 5 }, [{ method: "leaf_count", taxon: "a", stage: "egg" }], "t")"""
    body = modules.run("look.js", script)
    tally = {"taxon": "a", "stage": "egg", "how": "counted", "number": 0}
    assert body["plants"] == 5
    assert body["examined"] == [{"method": "leaf_count", "items": 15, "tallies": [tally]}]


@pytest.mark.parametrize(
    ("pressed", "said"),
    [
        (["add", "add"], {"how": "counted", "number": 2}),
        (["ten", "add"], {"how": "counted", "number": 11}),
        (["seen"], {"how": "present"}),
        (["seen", "add"], {"how": "counted", "number": 1}),
        (["ten", "more"], {"how": "at_least", "number": 10}),
        (["more"], {"how": "counted", "number": 0}),
        (["add", "seen", "undone"], {"how": "counted", "number": 1}),
        (["add", "undone", "undone"], {"how": "counted", "number": 0}),
    ],
    ids=lambda v: "-".join(v) if isinstance(v, list) else "",
)
def test_presses_become_a_tally(modules, pressed, said):
    script = """(() => {
      const t = { method: "plant_count", taxon: "a", stage: "egg" }, k = m.keyOf(t);
      const does = { add: (d) => m.add(d, k), ten: (d) => m.add(d, k, 10), seen: (d) => m.seen(d, k),
        more: (d) => m.more(d, k), undone: m.undone };
      const first = m.newDraft({ id: "1", by: "2", walk_id: "3", unit_id: "4", n: 1, began: 0 });
      return m.bodyOf(a[0].reduce((d, what) => does[what](d), first), [t], "t").examined[0].tallies[0];
    })()"""
    assert modules.run("look.js", script, pressed) == {"taxon": "a", "stage": "egg"} | said


def hits(modules, times_ms, **other):
    """How many of the hits on one key at these times are presses."""
    script = """(() => { const f = m.pressFilter();
      return a[0].filter((t) => f.down({ isPrimary: true, button: 0, ...a[1], timeStamp: t }, "k")).length; })()"""
    return modules.run("keys.js", script, times_ms, other)


def test_twenty_taps_at_nine_a_second_are_twenty(modules):
    assert hits(modules, [n * 1000 / 9 for n in range(20)]) == 20


def test_three_hits_in_30_ms_are_one(modules):
    assert hits(modules, [0, 14, 30]) == 1


def test_a_second_finger_presses_nothing(modules):
    assert hits(modules, [0], isPrimary=False) == 0


def test_stages_that_overlap_are_counted_once(modules):
    stages = {"motile": {"bits": 6}, "adult": {"bits": 4}, "egg": {"bits": 1}}
    asked = [{"taxon": "a", "stage": s, "method": "leaf_count"} for s in stages]
    kept = modules.run("keys.js", "m.apart(a[0], a[1]).map((t) => t.stage)", asked, stages)
    assert kept == ["motile", "egg"]


def look(number, plants=1, why="sample", how="counted", items=None, **other):
    tally = {"taxon": "a", "stage": "egg", "how": how} | (
        {"number": number} if number is not None else {}
    )
    part = {"method": "leaf_count", "tallies": [tally]} | ({"items": items} if items else {})
    body = {"kind": "look", "plants": plants, "why": why, "examined": [part], "flag_id": None}
    return {
        "id": f"{number}",
        "rev": 1,
        "void": None,
        "body": body | {"seen_at": "2026-01-01T00:00:00Z"} | other,
    }


TABLE = {"taxon": "a", "stage": "egg", "method": "leaf_count", "n_min": 2, "items": None, "refused": None,
         "under": [None, 0, 1], "over": [None, 6, 7]}  # fmt: skip


@pytest.mark.parametrize(
    ("looks", "table", "said"),
    [
        ([look(0)], {}, "keep_counting"),
        ([look(0), look(0)], {}, "sure_under"),
        ([look(0, plants=2)], {}, "sure_under"),
        ([look(1), look(0)], {}, "keep_counting"),
        ([look(5), look(1)], {}, "sure_over"),
        ([look(5, how="at_least"), look(1)], {}, "sure_over"),
        ([look(0), look(0), look(1, how="at_least")], {}, "keep_counting"),
        ([look(9, why="search"), look(0), look(0)], {}, "sure_under"),
        ([look(None, how="present"), look(9)], {}, "keep_counting"),
        ([look(0), look(0), look(0), look(0)], {}, "keep_counting"),
        ([look(0), look(0)], {"refused": "no_threshold", "under": None, "over": None}, "no_table"),
        ([look(0, items=3), look(0, items=3), look(9, items=2)], {"items": 3}, "sure_under"),
    ],
)  # fmt: skip
def test_advice_is_what_the_table_says(modules, looks, table, said):
    script = "m.adviceFor([a[0]], [{ ...a[0], ...a[2] }], a[1]).each[0].advice"
    assert modules.run("advice.js", script, TABLE, looks, table) == said


@pytest.mark.parametrize(
    ("missed", "said"),
    [
        ([0.04, 0.64], {"clumped": 4, "spot": 64}),
        ([0.05, 0.05], None),
        (None, None),
    ],
)
def test_advice_that_misses_more_than_five_of_a_hundred_says_so(modules, missed, said):
    assert modules.run("advice.js", "m.missedBy(a[0])", TABLE | {"missed": missed}) == said


def test_tables_hold_on_their_days_only(modules):
    plan = {"stops_valid": {"from": "2026-03-01", "until": "2026-03-05"}}
    days = ["2026-02-28", "2026-03-01", "2026-03-05", "2026-03-06"]
    script = "a[1].map((day) => m.tablesOf(a[0], { stops: [1] }, day).length)"
    assert modules.run("advice.js", script, plan, days) == [0, 1, 1, 0]


@pytest.mark.parametrize(
    ("seconds", "plants", "fast"),
    [(8.9, 3, True), (9.0, 3, False), (1.0, 2, False), (100, 50, True)],
)
def test_a_walk_under_three_seconds_a_plant_is_fast(modules, seconds, plants, fast):
    at = f"2026-01-01T00:0{int(seconds // 60)}:{seconds % 60:06.3f}Z"
    script = "m.isFast([a[0]], '2026-01-01T00:00:00Z')"
    assert modules.run("walk.js", script, look(0, plants=plants, seen_at=at)) is fast


@pytest.mark.parametrize(
    ("numbers", "asked"), [([48, 2, 0], 48), ([19, 0, 0], None), ([48, 5], None), ([48], None)]
)
def test_one_count_far_above_the_others_is_asked_about(modules, numbers, asked):
    script = "m.outlier(a[0])?.number ?? null"
    assert modules.run("walk.js", script, [look(n) for n in numbers]) == asked


def reading(modules, counts, **said):
    first = {"card": {"id": "c", "method": "yellow_card"}, "walk_id": "w", "unit_id": "u", "seen_at": "t",
             "state": "ok", "since": "hung", "counted": "all", "squares": None, "of": None}  # fmt: skip
    target = {"taxon": "a", "stage": "adult", "method": "yellow_card"}
    return modules.run(
        "cards.js", "m.readingOf(a[0], [a[1]])", first | {"counts": counts} | said, target
    )


def test_a_card_that_is_gone_has_a_state_and_no_count(modules):
    said = reading(modules, {"a adult": {"how": "counted", "number": 3}}, state="missing")
    assert said["examined"] == []
    assert not said.keys() & {"since", "counted"}


def test_a_full_card_is_counted_as_at_least(modules):
    said = reading(modules, {"a adult": {"how": "counted", "number": 90}}, state="full")
    assert (
        said["examined"][0]["tallies"][0] | {"how": "at_least", "number": 90}
        == said["examined"][0]["tallies"][0]
    )


def test_since_the_last_reading_only_new_ones_are_counted(modules):
    said = reading(modules, {}, since="last", counted="all", squares=10, of=40)
    assert (said["since"], said["counted"]) == ("last", "new")
    assert said["examined"][0] | {"items": 10, "of_items": 40} == said["examined"][0]


@pytest.mark.parametrize(("hours", "old"), [(71, None), (72, None), (73, 73)])
def test_a_disc_past_its_hours_is_too_old(modules, hours, old):
    card = {"id": "c", "method": "potato_disc", "hung_at": "2026-01-01T00:00:00Z"}
    script = "m.tooOld(a[0], { void_after_h: 72 }, Date.parse(a[0].hung_at) + a[1] * 3600000)"
    assert modules.run("cards.js", script, card, hours) == old


def test_a_station_is_found_by_a_part_of_its_code(modules):
    stations = [
        {"code": c, "kind": k} for c, k in (("S1-Y", "card"), ("S1-T", "sensor"), ("S2-Y", "card"))
    ]
    script = "m.found(a[0], a[1]).map((s) => s.code)"
    assert modules.run("cards.js", script, stations, "s1") == ["S1-Y"]
    assert modules.run("cards.js", script, stations, "y") == ["S1-Y", "S2-Y"]


def words_of_the_scripts() -> tuple[set[str], set[str]]:
    """Keys that the scripts name whole, and beginnings of those they put together."""
    text = "".join(
        p.read_text(encoding="utf-8") for p in STATIC.iterdir() if p.name.endswith(".js")
    )
    whole = set(re.findall(r'"(phone\.[\w.]+)"', text))
    return whole, {
        start for start in re.findall(r"`(phone\.[\w.]*)\$\{", text) if start != "phone."
    }


def test_every_word_that_the_page_says_is_in_the_catalogue_and_the_other_way():
    whole, begun = words_of_the_scripts()
    mine = {key for key in strings() if key.startswith("phone.")}
    assert whole - mine == set()
    advised = {"phone.sure_over", "phone.sure_under"}
    lost = mine - whole - advised
    assert [key for key in sorted(lost) if not any(key.startswith(b) for b in begun)] == []
    assert [b for b in begun if not any(key.startswith(b) for key in mine)] == []


def test_the_page_is_sent_its_words_in_both_languages():
    words = json.loads(shell()["words.json"].content)
    assert words["es"]["phone.next"] == "Siguiente"
    assert words["en"].keys() == words["es"].keys()


def test_no_file_of_the_page_names_another_host():
    named = set()
    for file in shell().values():
        named |= set(re.findall(rb"https?://[^\s\"']+", file.content))
    assert named == {b"http://www.w3.org/2000/svg"}
