"""Writes the figures of durability, copies, chain and posts from their results into the page."""

from __future__ import annotations

from typing import Any

from kept import ROOT, results, with_tables

PAGE = ROOT / "docs" / "durability.md"


def held() -> dict[str, Any]:
    return {name: results(name) for name in ("durability", "backups", "chain", "posts")}


def _cuts(held: dict[str, Any]) -> list[tuple[str, ...]]:
    ways = {"full": "as it is", "normal": "broken: NORMAL instead of FULL"}
    ways |= {"acknowledged_early": "broken: acknowledged before the commit"}
    head = ("", "cuts", "acknowledged rows compared", "cuts that lost one", "damaged files")
    columns = ("cuts", "acknowledged_rows_checked", "cuts_that_lost_acknowledged_rows")
    columns += ("cuts_that_left_a_damaged_file",)
    found = held["durability"]
    return [head, *((said, *(str(found[w][c]) for c in columns)) for w, said in ways.items())]


def _listed(held: dict[str, Any], rows: dict[str, str]) -> list[tuple[str, ...]]:
    return [("", ""), *((said, f"{held[key]:g}") for key, said in rows.items())]


COPIES = {
    "copies": "copies",
    "writers": "programs that wrote meanwhile",
    "rows_written_meanwhile": "rows they had acknowledged at the last copy",
    "acknowledged_ids_checked": "ids acknowledged before a copy's start, looked for in it",
    "acknowledged_ids_lost": "of these not there",
    "seconds_a_copy_median": "seconds a copy with its proof (median)",
}
CHAIN = {
    "tamperings": "tamperings",
    "named": "named",
    "past_the_last_outside_head": "past the last outside head",
    "neither": "neither",
    "ledger_rows": "ledger rows verified",
    "verify_s": "seconds of the processor for it",
    "bare_hashing_s": "seconds for sha256 alone, of texts in memory",
    "hashing_from_a_file_s": "seconds for sha256 of the same texts from a plain file",
    "reading_the_rows_s": "seconds for reading the same rows and nothing else",
    "ratio_to_bare_hashing": "ratio to sha256 alone (goal 2)",
    "ratio_to_hashing_from_a_file": "ratio to sha256 from a file",
    "ratio_to_reading_and_hashing": "ratio to reading and sha256",
    "replayed_records": "ledger rows replayed",
    "replay_s": "seconds for it",
    "lines_added_by_hand": "lines added by hand",
    "rows_named": "rows named",
}
POSTS = {
    "posts_a_second": "posts a second, one writer",
    "posts_a_second_from_a_phone": "the same as a phone sends them, from items to answers",
    "bare_sqlite_posts_a_second": "bare SQLite, FULL: as many bodies and counts, in two tables",
    "share_of_bare_percent": "share of it, percent (goal 30)",
    "same_rows_posts_a_second": "bare SQLite, FULL: the very same rows in the same tables, no rule",
    "share_of_same_rows_percent": "share of that, percent",
    "p99_one_writer_ms": "p99 of a post, one writer, ms",
    "median_eight_writers_ms": "median of a post, eight programs at once, ms",
    "p99_eight_writers_ms": "p99 of a post, eight programs at once, ms",
    "p99_ratio": "ratio",
    "tallies": "tallies in the copy",
    "copy_mb": "its size, MB",
    "backup_and_proof_s": "seconds to make and prove it",
    "plain_copy_and_integrity_check_s": "seconds for a plain copy and an integrity check",
    "restore_s": "seconds to restore it",
    "restore_ratio": "ratio (goal 3)",
}


def table(rows: list[tuple[str, ...]]) -> list[str]:
    lines = ["| " + " | ".join(row) + " |" for row in rows]
    return [lines[0], "|" + "---|" * len(rows[0]), *lines[1:]]


def with_figures(page: str, held: dict[str, Any]) -> str:
    """The text of the page with its tables as they are in the results."""
    tables = {
        "cuts": _cuts(held),
        "copies": _listed(held["backups"], COPIES),
        "chain": _listed(held["chain"], CHAIN),
        "posts": _listed(held["posts"], POSTS),
    }
    return with_tables(page, {name: table(rows) for name, rows in tables.items()})


if __name__ == "__main__":
    PAGE.write_text(with_figures(PAGE.read_text("utf-8"), held()), encoding="utf-8")
