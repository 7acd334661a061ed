"""The same list in another shape of file is the same records.

Metamorphic: no expected values are needed, each shape must read as the plain one does.
"""

import csv
import io
from dataclasses import replace
from itertools import product

import pytest

from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.lists.reading import read_list
from benchwalk.records.sheets.table import table_of
from tests.records.sheets.lists.small_list import NEW_YORK

LISTS = {
    "plantings": (
        (
            ("House", "Invernadero", "Gewächshaus"),
            ("Unit", "Mesa", "Tisch"),
            ("Crop", "Cultivo", "Kultur"),
            ("Variety", "Variedad", "Sorte"),
            ("Planted on", "Plantado el", "gepflanzt am"),
            ("Removed", "Retirado", "geräumt am"),
            ("Plants", "Plantas", "Anzahl Pflanzen"),
            ("Share %", "Porcentaje", "Flächenanteil %"),
            ("Spacing (plants/m2)", "Densidad (plantas/m2)", "Pflanzen je m2"),
            ("Phase", "Etapa", "Phase"),
            ("Phase since", "Fecha de etapa", "Phase seit"),
            ("Edible", "Comestible", "essbar"),
        ),
        [
            [
                "North",
                "Bay 1",
                "petunia",
                "Dot",
                "2026-02-16",
                "",
                "900",
                "60.5",
                "45.5",
                "flowering",
                "2026-04-01",
                "no",
            ],
            [
                "North",
                "Bay 2",
                "basil",
                "",
                "2026-02-20",
                "2026-05-13",
                "400",
                "100",
                "20.25",
                "",
                "",
                "yes",
            ],
        ],
    ),
    "stations": (
        (
            ("Code", "Código", "Kürzel"),
            ("House", "Invernadero", "Haus"),
            ("Unit", "Unidad", "Tisch"),
            ("Kind", "Tipo", "Art"),
            ("Role", "Papel", "Rolle"),
            ("x (m)", "x (m)", "x (m)"),
            ("y (m)", "y (m)", "y (m)"),
            ("Since", "Desde", "seit"),
            ("Until", "Hasta", "bis"),
        ),
        [
            ["Y1", "North", "Bay 1", "card", "door", "2.5", "10.25", "2026-02-03", "2026-05-13"],
            ["Y2", "North", "Bay 2", "sensor", "", "", "", "2026-02-03", ""],
        ],
    ),
    "treatments": (
        (
            ("Date", "Fecha", "Datum"),
            ("Start", "Hora de inicio", "Beginn"),
            ("End", "Hora final", "Ende"),
            ("House", "Invernadero", "Haus"),
            ("Unit", "Unidad", "Tisch"),
            ("Material", "Producto", "Mittel"),
            ("Active ingredient", "Ingrediente activo", "Wirkstoff"),
            ("Kind", "Tipo", "Art"),
            ("IRAC", "Grupo IRAC", "IRAC-Gruppe"),
            ("Water (L)", "Agua (L)", "Wasser (L)"),
            ("Target", "Contra", "gegen"),
            ("Applicator", "Aplicador", "Anwender"),
        ),
        [
            [
                "2026-05-13",
                "06:30",
                "08:15",
                "North",
                "Bay 1",
                "blue jug",
                "spinosad",
                "spray",
                "5",
                "190.5",
                "thrips",
                "LQ",
            ],
            ["2026-05-04", "", "", "North", "all", "swirskii", "", "release", "", "", "thrips", ""],
        ],
    ),
    "climate": (
        (
            ("Timestamp", "Fecha y hora", "Zeitstempel"),
            ("Sensor", "Sensor", "Fühler"),
            ("Temp (°C)", "Temperatura (°C)", "Temperatur (°C)"),
            ("Min (°C)", "Mínima (°C)", "Minimum (°C)"),
            ("RH (%)", "HR (%)", "rF (%)"),
            ("House", "Invernadero", "Haus"),
        ),
        [
            ["2026-05-13 06:30", "L1", "20.5", "19.25", "81.5", "North"],
            ["2026-05-13 06:40", "L1", "21.5", "", "80", "North"],
            ["2026-05-04 06:30", "L2", "18", "17.5", "", "North"],
        ],
    ),
}
DATES = {
    "iso": lambda d: d,
    "month first": lambda d: f"{int(d[5:7])}/{int(d[8:10])}/{d[:4]}{d[10:]}",
    "day first": lambda d: f"{int(d[8:10])}/{int(d[5:7])}/{d[:4]}{d[10:]}",
    "dotted": lambda d: f"{d[8:10]}.{d[5:7]}.{d[:4]}{d[10:]}",
}


def is_day(cell):
    return len(cell) >= 10 and cell[4] == cell[7] == "-" and cell[:4].isdigit()


def is_decimal(cell):
    return "." in cell and cell.replace(".", "").isdigit()


def written(kind, language=0, delimiter=",", decimal=".", order=None, dates="iso"):
    headings, rows = LISTS[kind]
    order = order or range(len(headings))
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow([headings[n][language] for n in order])
    for row in rows:
        cells = [DATES[dates](c) if is_day(c) else c for c in row]
        cells = [c.replace(".", decimal) if is_decimal(c) else c for c in cells]
        writer.writerow([cells[n] for n in order])
    return table_of(out.getvalue().encode(), "list.csv")


def said(kind, table):
    reading = read_list(table, kind, zone=NEW_YORK)
    assert reading.rejects == ()
    assert reading.asked == ()
    return [replace(t, at=At(t.at.row)) for t in reading.things]


@pytest.fixture(params=sorted(LISTS))
def kind(request):
    return request.param


@pytest.fixture
def plain(kind):
    return said(kind, written(kind))


def test_the_plain_list_says_all_of_its_rows(kind, plain):
    assert len(plain) == len(LISTS[kind][1])


@pytest.mark.parametrize("language", [1, 2], ids=["es", "de"])
def test_the_language_of_the_headings_changes_nothing(kind, plain, language):
    assert said(kind, written(kind, language)) == plain


@pytest.mark.parametrize(
    ("delimiter", "decimal"), [d for d in product(",;\t|", ".,") if d != (",", ".")]
)
def test_delimiter_and_decimal_mark_change_nothing(kind, plain, delimiter, decimal):
    assert said(kind, written(kind, delimiter=delimiter, decimal=decimal)) == plain


@pytest.mark.parametrize("dates", ["month first", "day first", "dotted"])
def test_the_way_days_are_written_changes_nothing(kind, plain, dates):
    """Each list has a thirteenth, which settles what is the day."""
    assert said(kind, written(kind, dates=dates)) == plain


def orders(width):
    """Ways to put columns: backwards, turned by three, every other one first."""
    return [
        range(width - 1, -1, -1),
        [*range(3, width), 0, 1, 2],
        [*range(1, width, 2), *range(0, width, 2)],
    ]


@pytest.mark.parametrize("n", range(3))
def test_the_order_of_the_columns_changes_nothing(kind, plain, n):
    order = orders(len(LISTS[kind][0]))[n]
    assert said(kind, written(kind, order=order)) == plain


def test_degrees_fahrenheit_are_the_same_readings():
    plain = said("climate", written("climate"))
    headings, rows = LISTS["climate"]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([h[0].replace("°C", "°F") for h in headings])
    for row in rows:
        cells = [str(float(c) * 1.8 + 32) if n in (2, 3) and c else c for n, c in enumerate(row)]
        writer.writerow(cells)
    found = said("climate", table_of(out.getvalue().encode(), "list.csv"))
    assert [t.temp_c for t in found] == pytest.approx([t.temp_c for t in plain])
    assert [t.instant for t in found] == [t.instant for t in plain]
