"""A scouting sheet of a few lines, read into what a program is told of it."""

from benchwalk.records.sheets.as_json import as_format_json
from benchwalk.records.sheets.reading import read_rows
from benchwalk.records.sheets.table import table_of

HEADINGS = "Date,Unit,Plant,Pest,Stage,Count,Notes"


def reading_of(*lines, answers=None, own_names=None, headings=HEADINGS):
    text = "\n".join([headings, *lines, ""])
    table = table_of(text.encode(), "sheet.csv")
    return read_rows(table, answers=answers or {}, own_names=own_names or {})


def read_lines(*lines, **said):
    return as_format_json(reading_of(*lines, **said))


def on(*dates, **said):
    """A sheet with a count on each of these dates."""
    lines = [f'"{d}",Bay {n},1,thrips,adult,{n},' for n, d in enumerate(dates, start=2)]
    return read_lines(*lines, **said)


def counted(*cells, **said):
    """A sheet with these cells of counts, each of a plant of its own."""
    quoted = ['"' + c.replace('"', '""') + '"' for c in cells]
    lines = [f"2024-05-07,Bay 1,{n},thrips,adult,{c}," for n, c in enumerate(quoted, start=2)]
    return read_lines(*lines, **said)


def named(*names, **said):
    """A sheet with a count of an animal of each of these names."""
    quoted = ['"' + n.replace('"', '""') + '"' for n in names]
    lines = [f"2024-05-07,Bay 1,{n},{c},,{n}," for n, c in enumerate(quoted, start=2)]
    return read_lines(*lines, **said)
