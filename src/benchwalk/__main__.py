"""``python -m benchwalk`` is the command line."""

from benchwalk.cli import main

main()
