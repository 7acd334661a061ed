"""Greenhouse pest scouting, step by step of the week.

plan, walk, summarise, decide, treat, verify, review.
"""

__version__ = "0.1.0"
