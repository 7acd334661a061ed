"""A server process that is killed while it takes a batch: sent again, every item is there once."""

from __future__ import annotations

import json
import shutil
import socket
import subprocess
import sys
import threading
import time

import httpx
import pytest

from benchwalk.records.database import open_database, session
from benchwalk.records.ledger import verify
from tests.capture.a_phone import APhone
from tests.patience import all_ended, killed, until

SERVER = """
import pathlib, sys, time, uvicorn
from benchwalk.records.database import open_database
from benchwalk.records.ledger import Head
from benchwalk.web import Served, create_app
real, calls = Head.say, []
def say(*said):
    calls.append(1)
    if len(calls) == 150 and len(sys.argv) > 4:  # in the middle: say so, and be killed there
        pathlib.Path(sys.argv[4]).touch()
        time.sleep(600)
    return real(*said)
Head.say = say
app = create_app(Served(open_database(sys.argv[1]), int(sys.argv[2])))
uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[3]), log_level="error")
"""
PATIENCE_S = 30.0
COUNTS = 300


@pytest.fixture
def phone(sqlite_template, tmp_path):
    path = tmp_path / "benchwalk.sqlite"
    shutil.copy(sqlite_template, path)
    engine = open_database(f"sqlite:///{path}")
    yield APhone(engine)
    engine.dispose()


def a_port():
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def started(phone, port, *stops_at):
    url = phone.engine.url.render_as_string(hide_password=False)
    command = [sys.executable, "-c", SERVER, url, str(phone.n), str(port)]
    command += map(str, stops_at)
    process = subprocess.Popen(command)
    patience = time.monotonic() + PATIENCE_S
    while time.monotonic() < patience:
        assert process.poll() is None, "the server ended by itself"
        with socket.socket() as tried:
            if tried.connect_ex(("127.0.0.1", port)) == 0:
                return process
        time.sleep(0.05)
    raise AssertionError("the server did not start")


def post(phone, port, items):
    message = {"version": 1, "epoch": 1, "unsent": len(items), "items": items}
    headers = {"authorization": f"Bearer {phone.token}"}
    with httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False, timeout=60) as client:
        return client.post("/api/v1/sync", headers=headers, content=json.dumps(message))


def killed_in_the_middle(phone, port, items, mark):
    """A server that is killed with half of the batch written; what the phone heard of it."""
    process, heard = started(phone, port, mark), []

    def send():
        try:
            heard.append(post(phone, port, items))
        except httpx.HTTPError:
            return  # the line went dead: the phone has heard nothing

    sending = threading.Thread(target=send, daemon=True)
    sending.start()
    until(mark.exists, "the batch never came to its middle", PATIENCE_S)
    killed(process)
    all_ended([sending])
    return heard


@pytest.mark.slow
def test_a_batch_whose_server_was_killed_in_its_middle_is_there_once_when_sent_again(
    phone, tmp_path
):
    port, items = a_port(), phone.morning(*range(COUNTS))
    assert killed_in_the_middle(phone, port, items, tmp_path / "middle") == []
    assert phone.held() == {}
    process = started(phone, port)
    try:
        answers = post(phone, port, items).json()["answers"]
        again = post(phone, port, items).json()["answers"]
    finally:
        killed(process)
    assert {a["answer"] for a in answers} == {"applied"}
    assert {a["answer"] for a in again} == {"duplicate"}
    confirmed = {item["id"]: n for n, item in enumerate(items[2:])}
    assert {id_: number for id_, (_, number) in phone.held().items()} == confirmed
    with session(phone.engine, phone.n) as s:
        assert verify(s, phone.n) is None
