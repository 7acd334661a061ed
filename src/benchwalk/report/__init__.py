"""What was summarised, in words and figures: renders, computes nothing."""

from benchwalk.report.as_json import week_json
from benchwalk.report.strip import axis, strip
from benchwalk.report.terminal import week_table
from benchwalk.report.words import WeekWords, week_words

__all__ = ["WeekWords", "axis", "strip", "week_json", "week_table", "week_words"]
