"""The promise of the phone as a machine that hypothesis drives, and ways of breaking it.

The real outbox.js on real IndexedDB, the real server code. `SERVER` and `PHONE` are faults that a
test plants; what ships has no switch for them.
"""

from __future__ import annotations

import itertools

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from benchwalk.records.database import writing
from benchwalk.records.sync import taking
from tests.capture.in_chromium import FAULTS, KilledError, opened

NAMES = itertools.count()
SLOW = list(HealthCheck)

MEANWHILE = """async (said) => {
  const fetch = outbox.fetch;
  let made = null;
  outbox.fetch = async (...asked) => {
    const answer = await fetch(...asked);
    made = await outbox.save(said);
    return answer;
  };
  await outbox.send();
  outbox.fetch = fetch;
  return made ?? outbox.save(said);
}"""


class PhoneMachine(RuleBasedStateMachine):
    """One phone and one server; `said` is what its scout was shown as pressed."""

    phone = tab = operation = None

    def __init__(self) -> None:
        super().__init__()
        self.name = f"machine {next(NAMES)}"
        self.tab.network.late.clear()
        self.tab.network.last = None
        self.tab.open(self.name, self.phone, self.operation)
        self.said: dict[str, tuple[int, int | None]] = {}
        self.walk = self.save("walk", self.phone.walk()["body"])["id"]
        self.save("visit", self.phone.visit({"id": self.walk})["body"])

    def save(self, kind, body, **other):
        return self.tab.does("save", {"kind": kind, "body": body, "by": self.phone.person} | other)

    @rule(number=st.integers(0, 9))
    def counts_a_plant(self, number):
        made = self.save("observation", self.phone.look_body(self.walk, number))
        self.said[made["id"]] = (made["rev"], number)

    @rule(number=st.integers(0, 9), which=st.integers(0, 99))
    def corrects_a_plant(self, number, which):
        if self.said:
            look = sorted(self.said)[which % len(self.said)]
            body = self.phone.look_body(self.walk, number)
            made = self.save("observation", body, id=look)
            self.said[look] = (made["rev"], number)

    @rule(number=st.integers(0, 9), which=st.integers(0, 99))
    def corrects_a_plant_while_an_answer_is_under_way(self, number, which):
        if self.said:
            look = sorted(self.said)[which % len(self.said)]
            body = self.phone.look_body(self.walk, number)
            said = {"kind": "observation", "id": look, "body": body, "by": self.phone.person}
            made = self.tab.evaluate(MEANWHILE, said)
            self.said[look] = (made["rev"], number)

    @rule(which=st.integers(0, 99))
    def takes_a_plant_back(self, which):
        if self.said:
            look = sorted(self.said)[which % len(self.said)]
            body = self.phone.look_body(self.walk, 1)
            made = self.save("observation", body, id=look, void="mistaken")
            self.said[look] = (made["rev"], None)

    @rule(fault=st.sampled_from(["none", *FAULTS]))
    def sends(self, fault):
        self.tab.send(fault)

    @rule()
    def what_was_under_way_arrives(self):
        self.tab.network.deliver_late()

    @rule()
    def is_started_again(self):
        self.tab.restart(self.name)

    @invariant()
    def the_phone_shows_what_was_pressed(self):
        shown = {row["id"]: row["rev"] for row in self.tab.does("records", "observation")}
        pressed = {look: rev for look, (rev, _) in self.said.items()}
        assert shown == pressed, f"pressed {pressed}, and the phone shows {shown}"

    def teardown(self) -> None:
        self.tab.network.deliver_late()
        for _ in range(60):
            if self.tab.send()["state"] == "nothing":
                break
        status = self.tab.does("status")
        left = (status["unsent"], status["conflicts"], status["refused"])
        assert left == (0, 0, 0), f"unsent, in conflict, refused: {left}"
        held, mine = self.phone.held(), set(self.said)
        there = {look: said for look, said in self.said.items() if said[1] is not None}
        arrived = {look: said for look, said in held.items() if look in mine}
        assert arrived == there, f"confirmed {there}, and the records hold {arrived}"


def machine(phone, browser_thread, network, operation, broken=None):
    tab = opened(*browser_thread, network, broken)
    members = {"phone": phone, "tab": tab, "operation": operation}
    return type("Machine", (PhoneMachine,), members)


def runs(examples, *phases):
    return settings(
        max_examples=examples,
        stateful_step_count=15,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=SLOW,
        phases=phases or tuple(Phase),
    )


def acknowledged_before_the_commit(patch):
    def early(engine, operation, device, items, **_):
        answers = []
        try:
            with writing(engine, operation) as s:
                answers = taking.Batch(s, device).take(items)
        except KilledError:
            return answers  # they had left before the server was killed
        return answers

    patch.setattr("benchwalk.web.sync.take", early)


def answered_200_on_a_rollback(patch):
    real = taking.take

    def told(engine, operation, device, items, **said):
        try:
            return real(engine, operation, device, items, **said)
        except KilledError:
            return [taking.Answer(item["id"], item["rev"], taking.APPLIED) for item in items]

    patch.setattr("benchwalk.web.sync.take", told)


def rev_ignored(patch):
    real = taking.Batch._one

    def known(self, item, sent):
        if item.id in self.said:
            return taking.Answer(sent["id"], sent["rev"], taking.DUPLICATE)
        return real(self, item, sent)

    patch.setattr(taking.Batch, "_one", known)


SERVER = [acknowledged_before_the_commit, answered_200_on_a_rollback, rev_ignored]
PHONE = {
    "deleted by id only": {"if (row.rev !== answer.rev)": "if (false)"},
    "a retry that forgets": {
        "await this.failed(taken);": 'await this.store.write(["outbox"], (t) => '
        '{ for (const row of taken) t.objectStore("outbox").delete(row.id); });'
    },
    "any answer with 200 lets go": {
        'const said = readAnswers(text, await this.meta("operation"));': "const said = "
        '{ epoch: 1, answers: taken.map((r) => ({ ...r, answer: "applied" })) };'
    },
}
