"""The phone's outbox in Chromium before the real server code, whatever the network does."""

import pytest

from tests.capture.in_chromium import FAULTS

pytestmark = pytest.mark.browser

DAY_MS = 86_400_000


def walked(phone, tab, *numbers):
    """A walk, its visit and looks, saved on the phone; ids and numbers of the looks."""
    walk = tab.does("save", {"kind": "walk", "body": phone.walk()["body"], "by": phone.person})
    visit = phone.visit(walk)["body"]
    tab.does("save", {"kind": "visit", "body": visit, "by": phone.person})
    looks = {}
    for number in numbers:
        body = phone.look_body(walk["id"], number)
        said = tab.does("save", {"kind": "observation", "body": body, "by": phone.person})
        looks[said["id"]] = (said["rev"], number)
    return walk["id"], looks


def sent_until_empty(tab, most=40):
    for _ in range(most):
        if tab.send()["state"] == "nothing":
            return
    raise AssertionError(f"still unsent: {tab.does('status')}")


@pytest.mark.parametrize("fault", FAULTS)
def test_what_was_confirmed_arrives_once_after_every_fault(phone, tab, fault):
    _, looks = walked(phone, tab, 1, 0, 4)
    before = tab.does("status")["unsent"]
    answer = tab.send(fault)
    if fault != "duplicated":
        assert answer["state"] == "waiting"
        assert tab.does("status")["unsent"] == before
    tab.network.deliver_late()
    sent_until_empty(tab)
    assert phone.held() == looks
    assert phone.aside() == []
    assert tab.does("status")["unsent"] == 0


def test_an_edit_while_the_answer_is_lost_arrives_too(phone, tab):
    walk, looks = walked(phone, tab, 1)
    (look,) = looks
    tab.send("error_after_commit")
    again = {"kind": "observation", "id": look, "on": 1, "by": phone.person}
    said = tab.does("save", again | {"body": phone.look_body(walk, 5)})
    assert said == {"id": look, "rev": 2}
    sent_until_empty(tab)
    assert phone.held() == {look: (2, 5)}
    assert phone.aside() == []


def test_an_answer_for_an_older_rev_does_not_let_go_of_a_newer_one(phone, tab):
    walk, looks = walked(phone, tab, 1)
    (look,) = looks
    tab.send()
    body = phone.look_body(walk, 5)
    tab.does("save", {"kind": "observation", "id": look, "body": body, "by": phone.person})
    tab.send("an_older_answer")
    assert tab.does("status")["unsent"] == 1
    sent_until_empty(tab)
    assert phone.held() == {look: (2, 5)}


def test_a_phone_started_again_has_everything_and_sends_it(phone, tab):
    _, looks = walked(phone, tab, 1, 2)
    tab.restart("phone")
    assert tab.does("status")["unsent"] == 4
    assert len(tab.does("records", "observation")) == 2
    sent_until_empty(tab)
    assert phone.held() == looks


def test_two_tabs_of_one_phone_send_nothing_twice_and_lose_no_edit(phone, tab, operation_uid):
    walk, looks = walked(phone, tab, 1)
    (look,) = looks
    edit = """async ([look, by, bodies]) => {
      const first = window.outbox;
      await window.begin("phone");
      const save = (o, body) => o.save({kind: "observation", id: look, body, by});
      const revs = await Promise.all([save(first, bodies[0]), save(window.outbox, bodies[1])]);
      await Promise.all([first.send(), window.outbox.send()]);
      return revs.map((r) => r.rev).sort();
    }"""
    bodies = [phone.look_body(walk, 2), phone.look_body(walk, 3)]
    assert tab.evaluate(edit, [look, phone.person, bodies]) == [2, 3]
    sent_until_empty(tab)
    ((rev, _),) = phone.held().values()
    assert rev == 3
    assert phone.aside() == []


def test_an_edit_of_a_rev_that_is_no_longer_held_is_refused(phone, tab):
    walk, looks = walked(phone, tab, 1)
    (look,) = looks
    body = {"kind": "observation", "id": look, "body": phone.look_body(walk, 2)}
    tab.does("save", body | {"by": phone.person, "on": 1})
    with pytest.raises(Exception, match="rev 2, not 1"):
        tab.does("save", body | {"by": phone.person, "on": 1})


def test_a_revoked_phone_keeps_everything_and_its_file_goes_to_a_person(phone, tab, tmp_path):
    from benchwalk.records.accounts import devices  # noqa: PLC0415 - of this test only
    from benchwalk.records.database import writing  # noqa: PLC0415
    from benchwalk.records.sync import bring_file  # noqa: PLC0415

    walked(phone, tab, 1)
    with writing(phone.engine, phone.n) as s:
        devices.revoke(s, phone.device)
    assert tab.send()["state"] == "signed_out"
    status = tab.does("status")
    assert (status["unsent"], status["needs"]) == (3, "pin")
    path = tmp_path / "phone.json"
    path.write_text(tab.evaluate("async () => JSON.stringify(await outbox.exportFile())"))
    for _ in range(2):
        answers = bring_file(phone.engine, phone.n, path)
        assert [a.reason for a in answers] == ["revoked"] * 3
    assert phone.held() == {}
    assert len(phone.aside()) == 3


def test_a_file_that_is_brought_in_leaves_nothing_to_send_twice(phone, tab, tmp_path):
    from benchwalk.records.sync import bring_file  # noqa: PLC0415 - of this test only

    _, looks = walked(phone, tab, 1, 0)
    path = tmp_path / "phone.json"
    path.write_text(tab.evaluate("async () => JSON.stringify(await outbox.exportFile())"))
    assert {a.answer for a in bring_file(phone.engine, phone.n, path)} == {"applied"}
    assert {a.answer for a in bring_file(phone.engine, phone.n, path)} == {"duplicate"}
    sent_until_empty(tab)
    assert phone.held() == looks
    assert phone.aside() == []


def test_a_conflict_is_kept_counted_and_shown_and_blocks_nothing(phone, tab):
    walk, looks = walked(phone, tab, 1)
    (look,) = looks
    theirs = phone.look({"id": walk}, 9, id=look)
    unit = phone.visit({"id": walk})
    phone.sends(phone.walk(id=walk), unit, theirs)
    tab.send()
    status = tab.does("status")
    assert status["unsent"] == 0
    assert status["conflicts"] >= 1
    kept = {row["id"]: row for row in tab.does("keptAside")}
    assert kept[look]["answer"] == "conflict"
    assert phone.held() == {look: (1, 9)}


def test_an_item_the_server_refuses_steps_aside_and_is_offered_again_by_hand(phone, tab):
    walk, looks = walked(phone, tab, 1)
    body = phone.look_body(walk, 1) | {"why": "luck"}
    bad = tab.does("save", {"kind": "observation", "body": body, "by": phone.person})
    sent_until_empty(tab)
    assert phone.held() == looks
    status = tab.does("status")
    assert (status["unsent"], status["refused"]) == (0, 1)
    tab.does("offerAgain", bad["id"], 1)
    assert tab.does("status")["unsent"] == 1


def test_one_item_that_the_server_fails_at_does_not_hold_up_the_others(phone, tab):
    """The server answers 500 to every request that holds this item: the batch is halved."""
    _walk, looks = walked(phone, tab, 1, 2, 3, 4)
    poison = next(iter(looks))
    asked = tab.network.asked

    def fails(path, method, token, body):
        return tab.network._error_before() if poison in body else asked(path, method, token, body)

    tab.network.asked = fails
    for _ in range(40):
        tab.send()
    del looks[poison]
    assert phone.held() == looks
    assert tab.does("status")["unsent"] == 1


def test_a_restored_server_is_told_again_what_it_lost(phone, tab, engine):
    """The records as they were before the morning, and a new epoch."""
    import sqlalchemy as sa  # noqa: PLC0415 - of this test only

    import benchwalk.records as r  # noqa: PLC0415

    walk, _looks = walked(phone, tab, 1)
    sent_until_empty(tab)
    tab.does("save", {"kind": "observation", "body": phone.look_body(walk, 7), "by": phone.person})
    real = tab.network.asked
    # the answer comes from the records before: all of it is lost, as after a restore
    tab.network.asked = lambda *sent: _applied_and_lost(real, sent)
    sent_until_empty(tab)
    assert len(phone.held()) == 1
    tab.network.asked = real
    with engine.begin() as c:
        c.execute(sa.update(r.Operation).where(r.Operation.id == phone.n).values(epoch=2))
    tab.does("save", {"kind": "observation", "body": phone.look_body(walk, 8), "by": phone.person})
    sent_until_empty(tab)
    assert sorted(n for _, n in phone.held().values()) == [1, 7, 8]
    assert tab.does("status")["epoch"] == 2


def _applied_and_lost(real, sent):
    """The server's own answer, of a transaction that the restore then took away."""
    from benchwalk.records.sync import taking  # noqa: PLC0415 - what is patched

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(taking.Ledgered, "commit", lambda s: s.rollback())
        return real(*sent)


def test_the_scout_at_the_time_of_the_count_and_the_corrected_clock_are_sent(phone, tab):
    """A phone two hours slow: one answer later its times are the server's, within 2 s."""
    walked(phone, tab, 1)
    tab.evaluate("() => turnClock(-7_200_000)")
    walk, _looks = walked(phone, tab, 1)
    tab.send()
    assert tab.does("status")["offset_s"] == pytest.approx(7200, abs=2)
    body = phone.look_body(walk, 2)
    late = tab.does("save", {"kind": "observation", "body": body, "by": phone.person})
    sent_until_empty(tab)
    (row,) = phone.ledger(late["id"])
    assert row.clock_offset_s == pytest.approx(7200, abs=2)
    assert abs((row.received_at - row.seen_at).total_seconds()) < 5
    assert str(row.by_id) == phone.person


def test_what_is_unsent_for_a_day_is_warned_of_and_sent_records_go_after_30_days(phone, tab):
    walked(phone, tab, 1)
    assert tab.does("status")["warn"] is False
    tab.evaluate("ms => turnClock(ms)", DAY_MS + 1000)
    assert tab.does("status")["warn"] is True
    sent_until_empty(tab)
    count = """async () => {
      await outbox.forget();
      const got = (request) => new Promise((ok) => (request.onsuccess = () => ok(request.result)));
      return outbox.store.read(["sent"], (t) => got(t.objectStore("sent").count()));
    }"""
    assert tab.evaluate(count) == 3
    tab.evaluate("ms => turnClock(ms)", 32 * DAY_MS)
    assert tab.evaluate(count) == 0


def test_a_connection_the_browser_closed_is_opened_again(phone, tab):
    walk, _looks = walked(phone, tab, 1)
    close = """async () => outbox.store.read(["meta"], (t) => { t.db.close(); })"""
    tab.evaluate(close)
    body = phone.look_body(walk, 2)
    tab.does("save", {"kind": "observation", "body": body, "by": phone.person})
    assert tab.does("status")["unsent"] == 4


def test_a_save_that_has_no_room_keeps_nothing_and_says_so(phone, tab):
    walk, _looks = walked(phone, tab, 1)
    full = """async ([body, by]) => {
      const put = IDBObjectStore.prototype.put;
      let n = 0;
      IDBObjectStore.prototype.put = function (row) {
        if (this.name === "outbox") throw new DOMException("full", "QuotaExceededError");
        n += 1;
        return put.call(this, row);
      };
      const saved = outbox.save({kind: "observation", body, by});
      const said = await saved.then(() => "kept", (e) => e.constructor.name);
      IDBObjectStore.prototype.put = put;
      return [said, n > 0, (await outbox.records("observation")).length];
    }"""
    assert tab.evaluate(full, [phone.look_body(walk, 2), phone.person]) == ["StorageFull", True, 1]


def test_every_save_is_a_strict_transaction(phone, tab):
    watch = """() => {
      window.seen = [];
      const begin = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function (...a) {
        window.seen.push([a[1], a[2]?.durability]);
        return begin.apply(this, a);
      };
    }"""
    tab.evaluate(watch)
    walked(phone, tab, 1)
    written = [how for mode, how in tab.evaluate("() => window.seen") if mode == "readwrite"]
    assert set(written) == {"strict"}


def test_keep_sending_waits_longer_each_time_and_is_woken(phone, tab):
    walked(phone, tab, 1)
    tab.network.fault = "proxy"
    waits = """async () => {
      const waited = [], end = new AbortController();
      const real = outbox.wait;
      outbox.random = () => 0.999;
      outbox.wait = (ms, signal) => {
        if (ms === 30000) return real(ms, signal);
        waited.push(ms);
        if (waited.length > 9) end.abort();
        return Promise.resolve();
      };
      await outbox.keepSending(end.signal);
      outbox.wait = real;
      return waited;
    }"""
    waited = tab.evaluate(waits)
    tab.network.fault = "none"
    assert waited[:3] == pytest.approx([3996, 7992, 15984])
    assert max(waited) <= 300_000
    assert waited == sorted(waited)
    assert tab.does("status")["unsent"] == 3


def test_the_plan_is_loaded_kept_and_not_replaced_by_a_portal(phone, tab):
    plan = tab.does("loadPlan")
    assert [u["name"] for u in plan["units"]] == ["U1", "U2"]
    assert plan["units"][0]["stations"][0]["cards"][0]["method"] == "yellow_card"
    tab.network.fault = "portal"
    assert tab.does("loadPlan") is None
    tab.network.fault = "none"
    tab.restart("phone")
    assert tab.does("plan") == plan


def test_regulated_finds_and_their_visit_leave_first(phone, tab):
    walk, _ = walked(phone, tab, 1, 2)
    body = phone.look_body(walk, 3)
    saved = {"kind": "observation", "body": body, "by": phone.person, "regulated": True}
    find = tab.does("save", saved)
    order = tab.evaluate("async () => (await outbox.next()).taken.map((r) => [r.kind, r.id])")
    assert [kind for kind, _ in order[:3]] == ["walk", "visit", "observation"]
    assert order[2][1] == find["id"]
