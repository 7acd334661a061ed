"""The docs say what there is, and what they say is run."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.main import get_command

from benchwalk.catalogue import LOCALES, NoSuchStringError, say, strings
from benchwalk.cli import app
from tests.in_turn import each_of
from tests.patience import PATIENCE_S

ROOT = Path(__file__).parent.parent
COMMANDS = sorted(get_command(app).commands)


@each_of("name", COMMANDS)
def test_every_command_has_help_with_an_example_and_stands_in_the_readme(name):
    command = get_command(app).commands[name]
    assert command.help
    assert command.epilog
    assert command.epilog.startswith(f"Example: benchwalk {name}")
    assert re.search(rf"(benchwalk|make) {name}\b", (ROOT / "README.md").read_text("utf-8"))


def test_every_command_of_the_readme_is_there():
    said = re.findall(r"benchwalk (\w+)", (ROOT / "README.md").read_text("utf-8"))
    wanted = {w for w in said if w not in ("takes", "gives")}
    assert wanted <= set(COMMANDS)


@each_of("path", sorted(ROOT.glob("**/*.md")))
def test_links_between_docs_lead_somewhere(path):
    if ".venv" in path.parts:
        return
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", path.read_text("utf-8")):
        if "://" not in target:
            assert (path.parent / target).exists(), f"{path.name} links to {target}"


def test_every_table_stands_in_the_nomenclature_or_is_part_of_a_word_there():
    import benchwalk.records as r  # noqa: PLC0415 - only this test reads the models

    words = (ROOT / "docs" / "nomenclature.md").read_text("utf-8").replace(" ", "_")
    missing = [t for t in r.Base.metadata.tables if t not in words]
    assert missing == []


@each_of("key", sorted(strings()))
def test_every_string_is_in_both_languages_with_the_same_places_to_fill(key):
    texts = strings()[key]
    places = [sorted(set(re.findall(r"{(\w+)", texts[locale]))) for locale in LOCALES]
    assert all(texts[locale].strip() for locale in LOCALES)
    assert places[0] == places[1]


def test_no_key_of_the_catalogue_stands_twice():
    lines = (ROOT / "src/benchwalk/catalogue/strings.csv").read_text("utf-8").splitlines()
    keys = [line.split(",")[0] for line in lines]
    assert sorted(keys) == sorted(set(keys))


def test_a_missing_string_is_an_error_and_never_an_empty_line():
    with pytest.raises(NoSuchStringError, match="no\\.such\\.key"):
        say("no.such.key")


def test_a_plural_follows_cldr_in_both_languages():
    """CLDR plural rules as Babel has them: 1 is one; 0 and 2 are other, in English and Spanish."""
    assert say("sheet.landed", "en", n=1) == "1 count recorded."
    assert say("sheet.landed", "en", n=0) == "0 counts recorded."
    assert say("sheet.landed", "es", n=2) == "2 conteos anotados."


@each_of("path", sorted((ROOT / "bench/results").glob("*.json")))
def test_every_bench_result_says_its_seed_and_commit(path):
    held = json.loads(path.read_text("utf-8"))
    assert "seed" in held
    assert re.fullmatch(r"[0-9a-f]{40}", held["commit"])


def test_help_starts_without_the_heavy_libraries():
    """What `--help` imports decides how long a person waits; the budget itself is in bench/."""
    code = (
        "import sys; from benchwalk.cli import app; "
        "heavy = {'numpy', 'scipy', 'sqlalchemy', 'fastapi', 'alembic', 'uvicorn', 'babel'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    command = [sys.executable, "-c", code]
    ran = subprocess.run(command, capture_output=True, text=True, check=True, timeout=PATIENCE_S)
    assert ran.stdout.strip() == "[]"
