"""How long a person waits for ``benchwalk --help``, in all and in processor time.

Budget: under 0.3 s. A figure of the machine it was run on; it fails no test.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time

from kept import head, keep, options

RUNS = 15
BUDGET_S = 0.3
COMMAND = [sys.executable, "-m", "benchwalk", "--help"]


def once() -> tuple[float, float]:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    subprocess.run(COMMAND, check=True, capture_output=True)
    waited = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return waited, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    asked = options(__doc__).parse_args()
    once()  # the first run writes compiled files
    runs = [once() for _ in range(RUNS)]
    bare = [*COMMAND[:1], "-c", "pass"]
    begun = time.perf_counter()
    subprocess.run(bare, check=True)
    held = {
        **head(None),
        "runs": RUNS,
        "budget_s": BUDGET_S,
        "median_s": round(statistics.median(w for w, _ in runs), 3),
        "worst_s": round(max(w for w, _ in runs), 3),
        "median_processor_s": round(statistics.median(p for _, p in runs), 3),
        "bare_python_s": round(time.perf_counter() - begun, 3),
    }
    keep("help_start", held, write=asked.write)


if __name__ == "__main__":
    main()
