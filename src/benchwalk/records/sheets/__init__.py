"""Reading somebody's own scouting sheet into records, without a guess that is not said."""
