"""Numbers in, numbers out: the statistics of scouting, on numpy and scipy alone."""
