"""What was summarised, in words and figures: renders, computes nothing.

Nothing is imported here: an import of a sheet tells what became of it without the week's figures.
"""
