"""The pages on keeping: their commands are run, their options and figures are those there are."""

import importlib.util
import re
import shlex
from pathlib import Path

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from benchwalk.cli import app
from benchwalk.records.backup import copies, make
from benchwalk.records.backup.keeping import DAYS, MONTHS, WEEKS
from benchwalk.records.doctor import AHEAD_S, LEAST_ROOM_BYTES

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"


def page(name):
    return (DOCS / f"{name}.md").read_text("utf-8")


def commands():
    """Every command of the page on restoring, in the order a person runs them."""
    blocks = re.findall(r"<!-- run -->\n```\n(.*?)```", page("restore"), re.DOTALL)
    return [line for block in blocks for line in block.splitlines()]


def test_the_page_on_restoring_works_from_top_to_bottom(on_file, tmp_path):
    """On a PC that has nothing, then over its records, as printed."""
    on_file.look(on_file.walk()[0])
    copy = make(on_file.s.get_bind()).folder
    said = []
    assert len(commands()) == 6
    for line in commands():
        words = [
            w.replace("COPY", str(copy)).replace("DATA", str(tmp_path / "new"))
            for w in shlex.split(line)
        ]
        assert words[0] == "benchwalk"
        ran = CliRunner().invoke(app, words[1:])
        assert ran.exit_code == 0, (line, ran.output)
        said.append(ran.stdout)
    assert "agrees with the outside head" in said[3]
    assert "The ledger is in epoch 3" in said[4]
    assert "row by row" in said[5]
    assert len(copies(tmp_path / "new" / "backups")) == 1
    assert len(list((tmp_path / "new").glob("replaced-*"))) == 1


@pytest.mark.parametrize("name", ["backup", "doctor"])
def test_every_option_of_a_command_stands_on_its_page(name):
    options = {o for p in get_command(app).commands[name].params for o in p.opts}
    said = set(re.findall(r"^\| `(--[\w-]+)` \|", page(name), flags=re.MULTILINE))
    assert said == options - {"--data"}


def test_numbers_of_the_pages_are_those_of_the_code():
    assert f"the last {DAYS} days, {WEEKS} weeks and {MONTHS} months" in page("backup")
    assert f"less than {LEAST_ROOM_BYTES >> 30} GB free" in page("doctor")
    assert f"by more than {AHEAD_S // 60} minutes" in page("doctor")


def test_the_figures_of_the_page_are_those_of_the_bench_results():
    path = ROOT / "bench" / "keeping_page.py"
    spec = importlib.util.spec_from_file_location("keeping_page", path)
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    held = bench.held()
    assert bench.with_figures(page("durability"), held) == page("durability")
    assert held["durability"]["full"]["cuts"] >= 1000
    assert held["durability"]["full"]["cuts_that_lost_acknowledged_rows"] == 0
    assert held["durability"]["full"]["cuts_that_left_a_damaged_file"] == 0
    assert held["backups"]["acknowledged_ids_lost"] == 0
    assert held["chain"]["neither"] == 0
    assert held["chain"]["rows_named"] == held["chain"]["lines_added_by_hand"]
