"""``python -m benchwalk.reference``: check the shipped tables, or print the bibliography."""

from __future__ import annotations

import argparse
import sys

from benchwalk.reference.check import check_tables
from benchwalk.reference.citing import bibliography
from benchwalk.reference.shelf import ROW_TYPES, rows


def main(arguments: list[str] | None = None) -> int:
    """Exit status: 0 = the tables are sound, 1 = the faults printed."""
    parser = argparse.ArgumentParser(prog="python -m benchwalk.reference", description=__doc__)
    parser.add_argument("--bibliography", action="store_true", help="print docs/references.md")
    if parser.parse_args(arguments).bibliography:
        print(bibliography(), end="")
        return 0
    faults = check_tables()
    for fault in faults:
        print(fault)
    if not faults:
        count = sum(len(rows(row_type)) for row_type in ROW_TYPES)
        print(f"{count} rows in {len(ROW_TYPES)} tables are sound")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
