"""The week in words, in English and Spanish: every state, every absence, every reason.

Expected texts are written by hand from the figures of the summary.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchwalk.catalogue import LOCALES
from benchwalk.report.line_words import LineWords, drawn
from benchwalk.report.unit_words import UnitWords
from benchwalk.report.words import WeekWords, week_words
from benchwalk.summarise import Change, InForce
from tests.report import a_summary as made
from tests.report.a_summary import NAN, a_summary
from tests.report.by_hand import threshold, vocabulary


@pytest.fixture(scope="module", params=LOCALES)
def week(request: pytest.FixtureRequest) -> WeekWords:
    return week_words(a_summary(), request.param)


@pytest.fixture(scope="module")
def english() -> WeekWords:
    return week_words(a_summary(), "en")


@pytest.fixture(scope="module")
def spanish() -> WeekWords:
    return week_words(a_summary(), "es")


def unit(week: WeekWords, name: str) -> UnitWords:
    return next(u for group in week.groups for u in group.units if name in u.name)


def line(week: WeekWords, name: str, place: int = 0) -> LineWords:
    return unit(week, name).all_lines[place]


def test_the_headline_is_words_first_and_its_parts_add_up(week):
    assert sum(part.n for part in week.head) == len(made.UNITS) + len(made.NOT_LOOKED)
    assert week.head_sentence.startswith(("Over 3, ", "Arriba 3, "))


def test_the_headline_in_both_languages(english, spanish):
    assert english.head_sentence == (
        "Over 3, may be over 1, seen not measured 1, no density 1, not looked 4, no threshold 1, "
        "under 2, looked none 2"
    )
    assert spanish.head_sentence == (
        "Arriba 3, puede estar arriba 1, hay sin medir 1, sin densidad 1, sin revisar 4, "
        "sin umbral 1, abajo 2, se revisó y nada 2"
    )


def test_a_state_that_no_unit_is_in_is_not_in_the_headline():
    summary = a_summary()
    calm = tuple(u for u in summary.units if u.state == "under")
    words = week_words(replace(summary, units=calm, not_looked=(), counts={"under": 2}))
    assert words.head_sentence == "Under 2"


def test_the_days_of_the_week(english, spanish):
    assert english.dates == "Fri 1 May to Thu 7 May 2026"
    assert spanish.dates == "vie 1 may a jue 7 may 2026"


def test_what_is_in_and_what_is_not_and_why(english, spanish):
    assert english.standing[0] == "Units looked at: 11 of 15."
    assert "out of time (1); no word: on the route, nothing came back (1)" in english.standing[1]
    assert "the key to the gate was lost (1)" in english.standing[1]
    assert spanish.standing[0] == "Unidades revisadas: 11 de 15."
    assert "no hubo tiempo (1); sin noticias" in spanish.standing[1]


def test_an_assumed_choice_of_plants_is_said_at_the_head(english, spanish):
    assert english.standing[2] == (
        "The sheets do not say how plants were chosen: taken as chosen at random."
    )
    assert spanish.standing[2].startswith("Las planillas no dicen cómo se escogieron")


def test_nothing_is_assumed_aloud_where_the_sheets_say_how_plants_were_chosen():
    summary = a_summary()
    said = tuple(u for u in summary.units if not any(x.series.why_assumed for x in u.lines))
    words = week_words(replace(summary, units=said))
    assert not any("do not say how plants" in sentence for sentence in words.standing)


def test_practice_records_are_called_so_before_anything_else():
    words = week_words(a_summary(practice=True))
    assert words.standing[0] == "Practice records: for learning, not for decisions."


STATES = [
    ("Bay 4", 0, "over", "arriba"),
    ("Bench row 5", 0, "may be over", "puede estar arriba"),
    ("Bench row 6", 0, "seen, not measured", "hay, sin medir"),
    ("Bench row 7", 0, "counted, no density", "contado, sin densidad"),
    ("Bay 1", 0, "no threshold set", "sin umbral"),
    ("Bench row 3", 0, "under", "abajo"),
    ("Mist bed 1", 0, "looked, none", "se revisó, nada"),
    ("Bench row 2", 1, "natural enemy", "enemigo natural"),
]


@pytest.mark.parametrize(("name", "place", "in_english", "in_spanish"), STATES)
def test_every_state_is_a_word(english, spanish, name, place, in_english, in_spanish):
    assert line(english, name, place).state_word == in_english
    assert line(spanish, name, place).state_word == in_spanish


def test_natural_enemies_stand_after_the_pests_and_once(week):
    bench = unit(week, "Bench row 2")
    assert [said.state for said in bench.lines] == ["over"]
    assert [said.state for said in bench.all_lines] == ["over", "enemy"]


def test_times_its_threshold_with_its_interval(english):
    said = line(english, "Bench row 2")
    assert (said.times, said.times_span) == ("2.4", "1.5 to 3.7")
    assert (said.density, said.density_span) == ("43 per card and week", "27 to 67")
    assert unit(english, "Bench row 2").worst == (
        "Western flower thrips: adult. Over. 2.4 times the threshold (1.5 to 3.7)."
    )


def test_times_its_threshold_in_spanish(spanish):
    assert unit(spanish, "Bench row 2").worst == (
        "Trips occidental de las flores: adulto. Arriba. 2.4 veces el umbral (1.5 a 3.7)."
    )


def test_a_value_just_under_the_threshold_does_not_read_as_one(english):
    assert line(english, "Bench row 3").times == "0.996"


def test_a_lower_bound_says_at_least_and_has_no_upper_end(english, spanish):
    said = line(english, "Bench row 5")
    assert (said.times, said.times_span) == ("at least 0.80", "0.30 or more")
    assert said.density == "at least 0.40 per plant"
    assert said.counted == "at least 8 on 20 plants"
    assert line(spanish, "Bench row 5").counted == "al menos 8 en 20 plantas"


def test_seen_and_not_counted_has_no_figure_anywhere(week):
    said = line(week, "Bench row 6")
    assert (said.density, said.density_span, said.times_span, said.infested) == ("", "", "", "")
    assert said.counted in ("seen, not counted: 20 plants", "hay, sin contar: 20 plantas")
    assert said.drawn is None


def test_a_count_over_an_effort_nobody_wrote_down_keeps_its_count_and_gets_no_density(english):
    said = line(english, "Bench row 7")
    assert said.counted == "7 found; how many plants is not said"
    assert said.density == ""
    assert "No density: how much was looked at is not said." in said.notes


def test_a_card_whose_count_fell_is_for_a_person_to_settle(english):
    said = line(english, "Bench row 7", 1)
    assert any("lower than the one before. Read the card again." in note for note in said.notes)


def test_looked_none_is_a_zero_with_its_upper_bound(english, spanish):
    said = line(english, "Mist bed 1")
    assert (said.times, said.times_span) == ("0", "0 to 0.32")
    assert (said.density, said.density_span) == ("0 per plant", "0 to 0.16")
    assert said.counted == "looked, none: 20 plants"
    assert line(spanish, "Mist bed 1").counted == "se revisó, nada: 20 plantas"


def test_a_mean_without_counts_has_no_interval_and_says_so(english):
    said = line(english, "Bench row 4")
    assert said.density == "0.020 per plant"
    assert (said.density_span, said.times_span, said.k_mark) == ("", "", "")
    assert said.counted == "a mean only: 20 plants"
    assert "No interval: the sheet gives only a mean." in said.notes


def test_a_plant_part_that_was_not_said_is_said_once_in_the_head(english):
    assert english.standing.count("Which part of the plants was looked at is not said.") == 1


def test_infested_plants_stand_with_their_share_and_interval(english):
    gap = "\N{NO-BREAK SPACE}"
    assert line(english, "Bay 4").infested == (
        f"plants with any: 17 of 20, 85{gap}% (66 to 95{gap}%)"
    )


def test_effort_is_leaves_beside_plants_and_card_weeks_beside_cards(english, spanish):
    assert line(english, "Bay 4").counted == "696 on 20 plants, leaf: 60"
    assert line(english, "Bench row 2").counted == "65 on 2 cards, card-weeks: 1.5"
    assert line(spanish, "Bench row 2").counted == "65 en 2 tarjetas, semanas de tarjeta: 1.5"


def test_k_assumed_is_marked_and_explained_once(english):
    assert line(english, "Bench row 2").k_mark == "clumping assumed"
    assert line(english, "Bay 4").k_mark == ""
    assert sum(sentence.startswith("Clumping assumed") for sentence in english.reading) == 1


def test_an_explanation_of_what_is_not_shown_is_left_out():
    summary = a_summary()
    only = tuple(u for u in summary.units if u.unit.name == "Bench row 6")
    assert week_words(replace(summary, units=only)).reading == ()


RULES = [
    ("Bay 4", "act at 2 per leaf", "actuar desde 2 por hoja"),
    (
        "Bench row 2",
        "act at 18 to 30 per card and week (low end = 1)",
        "actuar desde 18 a 30 por tarjeta y semana (extremo bajo = 1)",
    ),
    (
        "Bench row 3",
        "keep below 10 per card and week (10 = 1)",
        "mantener menos de 10 por tarjeta y semana (10 = 1)",
    ),
    (made.LONG_UNIT, "any find: act", "con uno basta: actuar"),
]


@pytest.mark.parametrize(("name", "in_english", "in_spanish"), RULES)
def test_a_rule_prints_its_range_its_below_or_any_find(
    english, spanish, name, in_english, in_spanish
):
    assert line(english, name).rule == in_english
    assert line(spanish, name).rule == in_spanish


def test_the_rule_in_force_is_named_once_with_its_source(english):
    assert len(english.rules) == 5
    number = line(english, "Bench row 5").rule_number
    assert number == line(english, "Mist bed 1").rule_number
    assert english.rules[number - 1] == (
        "Act at 0.5 per plant: action threshold, rule of the crop. For: greenhouse whitefly: nymph,"
        " count on whole plants; poinsettia; any phase; weeks 0 to 8. Source: our own walks 2024, "
        "2025."
    )


def test_a_source_known_only_from_memory_is_marked(english, spanish):
    number = line(english, "Bench row 3").rule_number
    assert english.rules[number - 1].endswith("Greenhouse (from memory).")
    assert spanish.rules[number - 1].endswith("Greenhouse (de memoria).")


def test_the_source_of_a_shipped_threshold_is_the_one_its_table_cites(english):
    number = line(english, "Bench row 2").rule_number
    assert english.rules[number - 1].endswith(
        "Source: Rettke S.K. 2009: Pest Counts and Action Thresholds in the Greenhouse."
    )


UNLIKE = [
    "That is for onion thrips, this count is of western flower thrips.",
    "That is for the stage adult, this count is of larva.",
    "Counted there by count in flowers, here by tap or shake onto a white surface.",
    "That is per plant, this count is per shoot tip.",
    "That is for plants of another age (weeks 2 to 5), or their age is not known.",
    "That is for the phase picking or cutting period.",
]


def test_a_threshold_that_is_not_compared_with_says_why_in_one_sentence_each(english, spanish):
    notes = line(english, "Bay 1").notes
    assert all(note.startswith("Not compared with: act at 3 ") for note in notes)
    ends = [[why for why in UNLIKE if note.endswith(why)] for note in notes]
    assert sorted(ends) == sorted([why] for why in UNLIKE)
    assert all(note.startswith("No se compara con: ") for note in line(spanish, "Bay 1").notes)


def test_sentences_of_what_is_not_compared_do_not_follow_the_order_of_records(english):
    """Thresholds of one day have no order among themselves, and another database has another."""
    summary = a_summary()
    turned = tuple(
        replace(unit, lines=tuple(replace(x, unlike=x.unlike[::-1]) for x in unit.lines))
        for unit in summary.units
    )
    assert week_words(replace(summary, units=turned)) == english


def test_without_a_threshold_the_crop_is_named_in_place_of_the_strip(english, spanish):
    assert line(english, "Bay 1").no_strip == "No threshold set for greenhouse cucumber."
    assert line(spanish, "Bay 1").no_strip == "Sin umbral para: pepino."
    assert line(english, "HYPERLINK").no_strip == "No threshold set: no crop is recorded here."


def test_only_action_and_economic_thresholds_make_a_strip():
    summary = a_summary()
    (mites, _) = summary.units[0].lines
    for kind, is_drawn in (("action", True), ("economic", True), ("inspect", False)):
        limit = threshold(mites.taxon, mites.stage, mites.method, "cucumber", kind=kind)
        ruled = replace(mites, rule=InForce(limit, "cucumber"))
        assert (drawn(ruled) is not None) == is_drawn


CHANGES = [
    ("Bay 4", 0, "2.8 times the walk before, Thu 30 Apr (1.1 to 7.0)"),
    ("Bay 4", 1, "no earlier walk to compare with"),
    ("Bay 1", 0, "0 on the walk before, Thu 30 Apr"),
    ("Bench row 4", 1, "0 now; 0.35 per plant on the walk before, Thu 30 Apr"),
    ("Mist bed 1", 0, "0 on the walk before too, Thu 30 Apr"),
]


@pytest.mark.parametrize(("name", "place", "sentence"), CHANGES)
def test_the_change_since_the_walk_before(english, name, place, sentence):
    assert line(english, name, place).change == sentence


def test_a_change_between_lower_bounds_is_not_reckoned(english):
    said = line(english, "Bench row 5").change
    assert "0.20 per plant on the walk before, Thu 30 Apr" in said
    assert said.endswith("so no comparison")


def test_a_change_without_an_interval_is_no_figure():
    summary = a_summary()
    (mites, _) = summary.units[0].lines
    unsure = replace(mites, change=Change(made.BEFORE, 4.2, NAN, NAN, NAN, "no_k"))
    where = replace(summary.units[0], lines=(unsure,))
    words = week_words(replace(summary, units=(where,)))
    assert words.groups[0].units[0].lines[0].change == (
        "4.2 per leaf on the walk before, Thu 30 Apr; not compared"
    )


def test_first_finds_are_said_for_the_unit_and_for_the_operation(english):
    assert "First find in this unit." in line(english, "Bay 4", 1).notes
    assert "First find in the whole operation." in line(english, made.LONG_UNIT).notes


def test_stage_structure_is_in_figures_and_shares(english):
    gap = "\N{NO-BREAK SPACE}"
    assert unit(english, "Bay 4").notes == (
        "Stages of two-spotted spider mite, count on leaves, 1900 in all: "
        f"egg 1204 (63{gap}%), motile stages 696 (37{gap}%).",
    )


def test_finds_on_flagged_plants_stand_apart(english, spanish):
    (note,) = unit(english, "Bench row 2").notes
    assert note.startswith(
        "Not in the density, since the plants were not chosen at random (flagged, Thu 7 May): "
    )
    assert note.endswith("5 on 1 plant, shoot tip: 1.")
    assert "con bandera" in unit(spanish, "Bench row 2").notes[0]


def test_a_unit_with_finds_on_flagged_plants_only_is_not_taken_for_looked_none():
    summary = a_summary()
    flagged = replace(made.over_card(), state="none", lines=())
    words = week_words(replace(summary, units=(flagged,)))
    (said,) = (u for group in words.groups for u in group.units)
    assert "No plants chosen at random were counted here." in said.notes


def test_a_clean_walk_says_what_it_proves_and_what_it_could_have_missed(english):
    gap = "\N{NO-BREAK SPACE}"
    assert unit(english, "Mist bed 1").notes == (
        f"No pest found on 20 of 600 plants. 95{gap}% sure: at most 14{gap}% of the plants have "
        "any.",
        f"This walk could have missed a patch of up to 82 plants (14{gap}%).",
    )
    assert unit(english, "HYPERLINK").notes == (
        f"No pest found on 20 plants. 95{gap}% sure: at most 14{gap}% of the plants have any.",
        f"This walk could have missed a patch of up to 14{gap}% of the plants.",
    )


def test_fewer_than_one_plant_in_a_hundred_is_said_without_a_source(english):
    few = "Fewer than 1 plant in 100 was looked at: 20 of 4500."
    assert unit(english, "Bench row 3").notes == (few,)
    assert any("it has no source" in sentence for sentence in english.reading)


def test_a_pest_counted_before_and_not_on_this_walk_is_missing_and_not_a_zero(english):
    (miss,) = unit(english, "Bench row 3").missing
    assert miss.reason == "counted before, not on this walk"
    assert miss.last == "last looked Thu 30 Apr"


def test_each_unit_nobody_looked_at_has_its_reason(english, spanish):
    (group,) = (g for g in english.groups if g.part.state == "not_looked")
    assert [miss.reason for miss in group.missing] == [
        "not looked: out of time",
        "no word: on the route, nothing came back",
        "not looked: no walk came here",
        "not looked: the key to the gate was lost",
    ]
    assert [miss.last for miss in group.missing][1:3] == ["last looked Thu 23 Apr", "never looked"]
    (group,) = (g for g in spanish.groups if g.part.state == "not_looked")
    assert group.missing[0].reason == "sin revisar: no hubo tiempo"
    assert group.missing[1].reason == "sin noticias: estaba en la ruta, no llegó nada"


def test_an_operations_own_name_comes_first_in_every_language():
    words = vocabulary()
    words["Taxon"]["western_flower_thrips"].names = {
        "en": "western flower thrips",
        "es": "trips occidental de las flores",
        "own": ["the little yellow ones"],
    }
    for locale in LOCALES:
        week = week_words(a_summary(taxa=words["Taxon"]), locale)
        assert line(week, "Bench row 2").pest.startswith("the little yellow ones: ")


def test_a_name_without_a_translation_is_the_english_one_and_without_any_the_code():
    words = vocabulary()
    words["Taxon"]["western_flower_thrips"].names = {"en": "western flower thrips"}
    words["Taxon"]["two_spotted_spider_mite"].names = {}
    week = week_words(a_summary(taxa=words["Taxon"]), "es")
    assert line(week, "Bench row 2").pest == "western flower thrips: adulto"
    assert line(week, "Bay 4").pest == "two spotted spider mite: móviles"


def test_no_figure_of_the_report_has_a_plus_minus_or_an_inequality_sign(week):
    text = repr(week)
    for sign in "±≤≥→":
        assert sign not in text


def test_the_cautions_close_the_report(english, spanish):
    assert english.cautions[0].startswith("The label is the law.")
    assert spanish.cautions[0].startswith("La etiqueta es la ley.")
    assert len(english.cautions) == len(spanish.cautions) == 5
