"""What nobody looked at has its reason, and no number beside it: in each file, and on the terminal.

Broken on purpose, each of them fails here: a 0 beside the reason, in place of the word, in place of
the reason. The pages are held to it in `test_week_page.py` and `test_unit_page_whole.py`.
"""

from __future__ import annotations

import io
import re

import openpyxl
import pytest
import sqlalchemy as sa
from rich.console import Console

import benchwalk.records as r
from benchwalk.catalogue import LOCALES, say
from benchwalk.demo import scenario
from benchwalk.records.database import open_database, session, writing
from benchwalk.report.as_json import week_json
from benchwalk.report.html import week_html
from benchwalk.report.report_words import report_words
from benchwalk.report.terminal import week_table
from benchwalk.report.workbook import week_xlsx
from benchwalk.summarise import reported
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of
from tests.web.security.markup import Markup, as_shown

A_DIGIT = re.compile(r"\d")
COUNTED = re.compile(r'<td role="cell"[^>]*>.*?</td>', re.DOTALL)


@pytest.fixture(scope="module")
def missing_much(planted, tmp_path_factory):
    """A unit that no walk came to, a pest counted before and not now, a look that found nothing."""
    path = tmp_path_factory.mktemp("week") / "benchwalk.sqlite"
    with planted.engine.connect() as c:
        c.exec_driver_sql("ROLLBACK")
        c.exec_driver_sql(f"VACUUM INTO '{path}'")
        c.exec_driver_sql("BEGIN")
    engine = open_database(f"sqlite:///{path}")
    with writing(engine, planted.operation) as s:
        s.add(r.Unit(kind="unit", name="Unit nobody came to", opened_on=scenario.FIRST))
        first = sa.select(r.Visit).where(r.Visit.unit_id == planted.unit, r.Visit.state == "done")
        visit = s.scalars(first.order_by(r.Visit.id)).first()
        for found in ([r.Tally(taxon="fungus_gnat", stage="larva", number=3)], []):
            look = r.Observation(kind="look", why="sample", plants=1, seen_at=visit.started_at)
            look.walk_id, look.unit_id = visit.walk_id, visit.unit_id
            look.examined = [r.Examined(method="root_inspection", items=1, tallies=found)]
            s.add(look)
    yield engine, planted.operation
    engine.dispose()


@pytest.fixture(scope="module")
def week(missing_much):
    """The newest week of it."""
    with session(*missing_much) as s:
        found = reported(s)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def grower(missing_much):
    with (
        listening(create_app(Served(*missing_much))) as url,
        asking(url, token_of(*missing_much, "grower")) as client,
    ):
        yield client


def missed(week, locale):
    """Everything that was not looked at, in the words of the report: whole units, and parts."""
    groups = report_words(week, locale).week.groups
    units = [miss for group in groups for miss in group.missing]
    parts = [miss for group in groups for unit in group.units for miss in unit.missing]
    assert units
    assert parts
    return [*units, *parts]


def rest_of(text, miss):
    """What stands in a row beside what it is of, why it was not looked at, and when it last was."""
    left = as_shown(text)
    for said in (miss.name, miss.method, miss.reason, miss.last):
        left = left.replace(as_shown(said).strip(), "", 1) if said else left
    return left


def about(rows, miss):
    """The rows that are of it: they hold its name and when it was last looked at."""
    wanted = [as_shown(text).strip() for text in (miss.name, miss.last) if text]
    return [row for row in map(as_shown, rows) if all(text in row for text in wanted)]


@pytest.mark.parametrize("locale", LOCALES)
def test_a_page_of_its_own_has_no_number_for_what_nobody_looked_at(week, locale):
    source = week_html(report_words(week, locale))
    rows = [" ".join(Markup(row).texts) for row in re.findall(r"<tr.*?</tr>", source, re.DOTALL)]
    for miss in missed(week, locale):
        found = [row for row in about(rows, miss) if as_shown(miss.reason) in row]
        assert found, miss
        for row in found:
            assert say("week.no_count", locale) in row
            assert not A_DIGIT.search(rest_of(row, miss)), row


@pytest.mark.parametrize("locale", LOCALES)
def test_the_terminal_has_no_number_for_what_nobody_looked_at(week, locale):
    said = io.StringIO()
    Console(file=said, width=4000).print(week_table(week.summary, locale))
    lines = said.getvalue().split("\n")
    for miss in missed(week, locale):
        found = [line for line in about(lines, miss) if as_shown(miss.reason) in line]
        assert found, miss
        for line in found:
            assert not A_DIGIT.search(rest_of(line, miss)), line


@pytest.mark.parametrize("locale", LOCALES)
def test_the_workbook_has_no_number_for_what_nobody_looked_at(week, locale):
    book = openpyxl.load_workbook(io.BytesIO(week_xlsx(week, locale)))
    page = book[say("report.sheet.not_looked", locale)]
    rows = [[cell.value for cell in row] for row in page.iter_rows()]
    held = [row for row in rows if any(isinstance(v, int | float) for v in row)]
    assert held == []
    reasons = {miss.reason for miss in missed(week, locale)}
    assert reasons <= {value for row in rows for value in row}
    assert sum(1 for row in rows if reasons & set(row)) == len(missed(week, locale))


def test_what_a_program_is_told_has_no_number_for_what_nobody_looked_at(week):
    told = week_json(week.summary)
    misses = told["not_looked"] + [m for unit in told["units"] for m in unit["not_counted"]]
    assert len(misses) == len(missed(week, "en"))
    for miss in misses:
        assert miss["state"] == "not_looked"
        assert miss["reason"]
        assert not [name for name, value in miss.items() if isinstance(value, int | float)]


@pytest.mark.parametrize("locale", LOCALES)
def test_a_units_page_has_no_number_for_what_nobody_looked_at(grower, planted, week, locale):
    """Broken on purpose: a 0 in place of the word."""
    source = grower.get(f"/units/{planted.unit}?lang={locale}").text
    rows = re.findall(r'<tr role="row" class="line missing">.*?</tr>', source, re.DOTALL)
    assert rows
    mine = [miss for miss in missed(week, locale) if miss.method]
    for row in rows:
        shown = as_shown(" ".join(Markup(row).texts))
        assert say("week.no_count", locale) in shown
        (miss,) = (miss for miss in mine if about([shown], miss) and miss.method in shown)
        assert not A_DIGIT.search(rest_of(shown, miss)), shown


@pytest.mark.parametrize("locale", LOCALES)
def test_a_look_that_found_nothing_at_all_is_no_counted_nought(grower, missing_much, locale):
    """Looked, none of anything, and a count of 0 are not said alike."""
    with session(*missing_much) as s:
        looks = sa.select(r.Observation).where(r.Observation.examined.any(method="root_inspection"))
        walk = s.get_one(r.Walk, (missing_much[1], s.scalars(looks).first().walk_id))
        unit = s.scalars(looks).first().unit_id
    asked = f"unit={unit}&pest=fungus_gnat&stage=larva&method=root_inspection&on={walk.walk_on}"
    answer = grower.get(f"/looks?{asked}&lang={locale}")
    assert answer.status_code == 200, answer.text
    counts = [" ".join(Markup(cell).texts) for cell in COUNTED.findall(answer.text)]
    assert say("page.count_none_at_all", locale) in " ".join(counts)
    assert not [c for c in counts if re.fullmatch(r"\s*0\s*", c)], counts
