"""Rows of the week as markup, kept by what they say."""

from __future__ import annotations

from functools import lru_cache, partial

from markupsafe import Markup

from benchwalk.catalogue import say
from benchwalk.report.row_words import RowWords
from benchwalk.report.spark import spark
from benchwalk.web.pages import TEMPLATES, number, strip_of

KEPT = 2000  # own choice: a week of 400 units, in two languages, before and after a walk


@lru_cache(maxsize=KEPT)
def unit_row(locale: str, row: RowWords) -> Markup:
    """A row of the week. The same words are the same markup, which is made once."""
    template = TEMPLATES.get_template("unit_row.html")
    return Markup(
        template.render(
            row=row,
            times_its_threshold=say("week.axis", locale),
            over_by_next_walk=say("page.col_over", locale),
            strip=partial(strip_of, locale),
            spark=Markup(spark(row.weeks, locale)),
            number=number,
        )
    )
