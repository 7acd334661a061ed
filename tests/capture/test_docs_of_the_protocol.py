"""docs/phone-protocol.md says what the code answers and what the bench measured."""

import json
from pathlib import Path

import pytest

from benchwalk.records.sync import KINDS
from benchwalk.records.sync.reading import FIELDS
from tests.in_turn import each_of

ROOT = Path(__file__).parent.parent.parent
PAGE = (ROOT / "docs" / "phone-protocol.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("figure", ["median_ratio", "slowest_ratio", "counts_per_second_ratio"])
def test_the_figures_of_eight_phones_are_those_measured(figure):
    held = json.loads((ROOT / "bench/results/sync_posts.json").read_text(encoding="utf-8"))
    section = PAGE.split("## Eight phones at once")[1].split("\n## ")[0]
    assert str(held[figure]) in section.replace("\n", " ").split(" ")


@each_of("word", sorted({*KINDS, *FIELDS}))
def test_every_kind_and_field_of_an_item_is_in_the_page(word):
    assert f"`{word}`" in PAGE or f'"{word}"' in PAGE
