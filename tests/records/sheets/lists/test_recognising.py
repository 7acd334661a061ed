"""What kind of file it is: told by its headings, said by a person, or asked; never guessed."""

from pathlib import Path

import pytest

from benchwalk.records.sheets.lists.bring import taken_as
from benchwalk.records.sheets.lists.found import KINDS, ListRefused
from benchwalk.records.sheets.lists.layout import page_of
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.page import Page, Table
from benchwalk.records.sheets.table import read_table
from tests.in_turn import each_of
from tests.records.sheets.lists.small_list import read, table

SHEETS = Path(__file__).parent.parent / "examples"
COUNT_SHEETS = sorted([*SHEETS.glob("*.csv"), *SHEETS.glob("*.xlsx")])


def kind_told_by(*lines, own=None):
    found = page_of(table("\n".join([*lines, ""])), None, own or {})
    return found and found[0]


@each_of("path", COUNT_SHEETS)
def test_no_scouting_sheet_is_taken_for_a_list(path):
    assert page_of(read_table(path), None, {}) is None


@pytest.mark.parametrize(
    "headings",
    [
        "Date,House,Unit,Crop,Material,Applicator,Pest,Stage,Count",
        "Date,Unit,Material,Thrips adults,Aphids",
        "Date,Unit,Treatment,Pest,Count",
        "Date,Unit,Crop,Planted on,Temp,Thirps adults",
        "Fecha,Unidad,Producto,Plaga,Fase,Conteo",
        "Date,Unit,Station,Kind,Pest,Stage,Count",
    ],
)
def test_a_sheet_with_pest_counts_is_counts_whatever_else_stands_in_it(headings):
    row = ",".join(
        "2024-05-07" if "Date" in h or "Fecha" in h else "3" for h in headings.split(",")
    )
    assert kind_told_by(headings, row) is None


@each_of(
    ("headings", "kind"),
    [
        ("House,Unit,Crop,Planted on,Plants", "plantings"),
        ("Invernadero,Unidad,Cultivo,Plantado el,Plantas", "plantings"),
        ("Haus,Tisch,Kultur,gepflanzt am,Anzahl Pflanzen", "plantings"),
        ("Code,House,Unit,Kind,Role", "stations"),
        ("Código,Invernadero,Unidad,Tipo", "stations"),
        ("Kürzel,Haus,Tisch,Art,Lage", "stations"),
        ("Date,House,Unit,Product,Active ingredient,Rate", "treatments"),
        ("Fecha,Invernadero,Unidad,Producto,Dosis", "treatments"),
        ("Datum,Haus,Tisch,Mittel,Wirkstoff", "treatments"),
        ("Date,Unit,Target pest,Material,Water (L)", "treatments"),
        ("Timestamp,Temp (C),RH (%)", "climate"),
        ("Fecha,Hora,Temperatura (°C),HR (%)", "climate"),
        ("Datum,Uhrzeit,Temperatur °C,rF %", "climate"),
        ("Date/Time,North °F,South °F", "climate"),
    ],
)
def test_headings_of_three_languages_tell_the_kind(headings, kind):
    row = ",".join("2024-05-07" if n == 0 else "3" for n, _ in enumerate(headings.split(",")))
    assert kind_told_by(headings, row) == kind


def test_a_table_that_says_nothing_of_a_list_is_left_to_the_reader_of_counts():
    assert kind_told_by("Name,Phone", "A,12") is None


def test_pest_and_quantity_beside_a_material_is_asked_in_one_refusal():
    with pytest.raises(ListRefused, match=r"fit counts, treatments equally well; say .*--as KIND"):
        kind_told_by("Date,Unit,Pest,Product,Quantity", "2024-05-07,Bay 1,thrips,soap,200")


def test_headings_that_fit_two_lists_are_asked_in_one_refusal():
    with pytest.raises(ListRefused, match="the headings fit plantings, stations equally well"):
        kind_told_by("Station,Unit,Kind,Crop,Planted on", "A,Bay 1,card,pansy,2024-05-07")


def test_what_a_person_says_is_believed(tmp_path):
    held = table("Date,Unit,Pest,Product,Quantity\n2024-05-07,Bay 1,thrips,soap,200\n")
    kind, _ = taken_as(held, "treatments", Kept(tmp_path), {})
    assert kind == "treatments"


def test_what_was_agreed_for_the_same_headings_settles_what_they_do_not_tell(tmp_path):
    headings = "Date", "Unit", "Pest", "Product", "Quantity"
    kept = Kept(tmp_path)
    kept.keep(("as:treatments", *headings), {})
    held = table(",".join(headings) + "\n2024-05-07,Bay 1,thrips,soap,200\n")
    assert taken_as(held, None, kept, {})[0] == "treatments"


def test_a_column_that_the_kind_needs_and_nothing_names_is_refused_with_what_was_found():
    with pytest.raises(ListRefused, match=r"no heading names: planted_on \(found: Unit, Crop\)"):
        read("plantings", "Unit,Crop", "Bay 1,pansy")


def test_an_answer_names_a_column():
    lines = "Unit,Crop,In", "Bay 1,pansy,2024-05-07"
    reading = read("plantings", *lines, answers={"column:In": "planted_on"})
    assert [t.planted_on.isoformat() for t in reading.things] == ["2024-05-07"]


def test_an_answer_that_names_no_meaning_is_refused_with_what_there_is():
    with pytest.raises(
        ListRefused, match="column 'In' was said to be 'arrival'; expected one of: "
    ):
        read("plantings", "Unit,Crop,In", "Bay 1,pansy,x", answers={"column:In": "arrival"})


def test_the_page_of_a_workbook_that_holds_the_list_is_read():
    notes = Page((("Notes",), ("call Monday",)), "Notes")
    stands = Page((("Unit", "Crop", "Planted on"), ("Bay 1", "pansy", "2024-05-07")), "Stands")
    book = Table("book.xlsx", "0" * 64, None, None, (notes, stands))
    kind, page = page_of(book, None, {})
    assert (kind, page.rows) == ("plantings", stands.rows)


def test_two_pages_with_lists_are_asked_about_and_not_half_read():
    stands = Page((("Unit", "Crop", "Planted on"), ("Bay 1", "pansy", "2024-05-07")), "Stands")
    again = Page(stands.rows, "Again")
    book = Table("book.xlsx", "0" * 64, None, None, (stands, again))
    with pytest.raises(ListRefused, match="2 pages hold plantings; save each"):
        page_of(book, "plantings", {})


def test_every_kind_has_words_for_what_it_was_taken_for():
    from benchwalk.catalogue import say  # noqa: PLC0415 - only this test speaks

    for kind in KINDS:
        assert "l.csv, taken as a" in say(f"list.as.{kind}", file="l.csv", read=2)
