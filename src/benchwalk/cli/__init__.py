"""The command line: one command a step, thin. Heavy imports stay inside commands."""

from benchwalk.cli import (
    bringing,
    forecasting,
    keeping,
    leaving,
    people,
    phones,
    serving,
    setting_up,
    showing,
)
from benchwalk.cli.app import app

__all__ = [
    "app",
    "bringing",
    "forecasting",
    "keeping",
    "leaving",
    "main",
    "people",
    "phones",
    "serving",
    "setting_up",
    "showing",
]


def main() -> None:
    """Entry of the console script."""
    app()
