"""Messages as the first release sends them, answered by every later one as they were then."""

import json
from pathlib import Path

import httpx
import pytest

from benchwalk.records.sync.files import VERSIONS
from benchwalk.web import Served, create_app
from tests.web.conftest import listening

FIXTURES = Path(__file__).parent / "fixtures"


@pytest.mark.parametrize("version", [1])
def test_the_messages_of_a_release_are_answered_as_they_were_then(phone, version):
    mine = {"person": phone.person, "unit": phone.unit, "unit2": phone.unit2}
    mine["card"] = str(phone.o.card.id)
    app = create_app(Served(phone.engine, phone.n))
    with listening(app) as url, httpx.Client(base_url=url, trust_env=False) as client:
        for path in sorted((FIXTURES / f"v{version}").glob("*.json")):
            held = json.loads(path.read_text(encoding="utf-8"))
            text = json.dumps(held["message"])
            for name, value in mine.items():
                text = text.replace(f'"{{{name}}}"', f'"{value}"')
            headers = {"authorization": f"Bearer {phone.token}"}
            answer = client.post("/api/v1/sync", headers=headers, content=text)
            said = [
                " ".join(filter(None, (a["answer"], a["reason"]))) for a in answer.json()["answers"]
            ]
            assert said == held["answers"], f"{path.name}: {phone.aside()}"
            assert answer.json().keys() == {
                "version",
                "operation",
                "epoch",
                "received_at",
                "answers",
            }


def test_every_version_that_is_read_has_its_messages_kept():
    assert {f"v{v}" for v in VERSIONS} <= {p.name for p in FIXTURES.iterdir()}
    assert len(VERSIONS) <= 2
