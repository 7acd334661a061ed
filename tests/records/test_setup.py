"""Setting up an operation, and what a database must be before anything reads it."""

import datetime as dt

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk import reference
from benchwalk.records.database import (
    DatabaseNotReadyError,
    address,
    migrate,
    open_database,
    ready,
    schema_of,
    session,
    writing,
)
from benchwalk.records.ledger import verify
from benchwalk.records.setup import (
    SetupRefusedError,
    only_operation,
    own_threshold,
    set_threshold,
    set_up,
    shipped_thresholds,
)

WHITEFLY = {
    "taxon": "whitefly",
    "stage": "nymph",
    "method": "plant_count",
    "crop": "poinsettia",
    "phase": "any",
    "value": 0.5,
    "high": None,
    "per": "per_plant",
    "kind": "action",
    "source": "our own",
    "since": dt.date(2026, 1, 1),
}


def test_an_operation_is_complete_in_itself_with_every_word_of_the_reference(engine):
    made = set_up(engine, "A", "Europe/Madrid")
    with session(engine, made.operation) as s:
        held = {
            model: set(s.scalars(sa.select(model.code)))
            for model in (r.Taxon, r.Stage, r.Method, r.Crop)
        }
        assert held[r.Taxon] == {t.taxon_key for t in reference.taxa()}
        assert held[r.Stage] == set(reference.stage_bits())
        assert held[r.Method] == {m.method_key for m in reference.methods()}
        assert held[r.Crop] == {c.crop_key for c in reference.crops()}
        assert made.terms == sum(len(codes) for codes in held.values())
        assert verify(s, made.operation) is None


def test_only_sourced_unconditional_defaults_become_thresholds():
    kept = {(t.taxon, t.crop, t.kind): t for t in shipped_thresholds()}
    assert all(reference.source(t.source) for t in kept.values())
    assert {t.status for t in kept.values()} <= {"seen", "computed"}
    assert ("western_flower_thrips", "any_crop", "action") not in kept, "binds where virus is found"
    poinsettia = kept["western_flower_thrips", "poinsettia", "action"]
    assert (poinsettia.value, poinsettia.per) == (40, "per_card_per_week")


def test_the_low_end_of_a_printed_range_acts_rettke_2009():
    """Western flower thrips on impatiens: 18 to 30 a card and week (Rettke2009)."""
    t = next(t for t in shipped_thresholds() if t.crop == "impatiens")
    assert (t.value, t.high, t.below) == (18, 30, False)


def test_below_ten_without_a_lower_end_acts_at_ten_rettke_2009():
    t = next(t for t in shipped_thresholds() if t.crop == "african_violet")
    assert (t.value, t.high, t.below) == (10, None, True)


def test_where_a_source_gives_an_injury_level_too_the_threshold_acts():
    """Cucumber: injury level 6.2, threshold 5.0 whitefly adults a plant (CucumberWhitefly2009)."""
    found = [t.value for t in shipped_thresholds() if t.source == "CucumberWhitefly2009"]
    assert found == [5.0]


def test_a_second_operation_of_the_name_and_a_zone_that_is_none_are_refused(engine):
    set_up(engine, "A", "UTC")
    with pytest.raises(SetupRefusedError, match="called 'A' already; give another name"):
        set_up(engine, "A", "UTC")
    with pytest.raises(SetupRefusedError, match="'Ohio' is not a time zone; give an IANA name"):
        set_up(engine, "B", "Ohio")


def test_the_only_operation_is_found_and_none_or_two_are_told(engine):
    with pytest.raises(SetupRefusedError, match="no operation here yet; set one up first"):
        only_operation(engine)
    assert set_up(engine, "A", "UTC").operation == only_operation(engine)
    set_up(engine, "B", "UTC")
    with pytest.raises(SetupRefusedError, match="2 operations in this database"):
        only_operation(engine)


def test_a_threshold_set_twice_is_a_correction_with_a_higher_rev(engine):
    n = set_up(engine, "A", "UTC").operation
    for value in (0.5, 0.8):
        with writing(engine, n) as s:
            set_threshold(s, own_threshold(**WHITEFLY | {"value": value}))
    with session(engine, n) as s:
        own = s.scalars(sa.select(r.Threshold).where(r.Threshold.source == "our own")).all()
        assert [(t.value, t.rev) for t in own] == [(0.8, 2)]


@pytest.mark.parametrize(
    ("changed", "match"),
    [
        ({"kind": "inspect"}, "kind 'inspect' says no action"),
        ({"value": 0}, "0 is no threshold; give a value above 0"),
        ({"high": 0.2}, "0.5 to 0.2 is no threshold"),
        ({"per": "rate"}, "per 'rate' is not known; give one of"),
    ],
)
def test_a_threshold_that_says_nothing_is_refused_in_a_sentence(changed, match):
    with pytest.raises(SetupRefusedError, match=match):
        own_threshold(**WHITEFLY | changed)


def test_a_word_that_is_not_in_the_vocabulary_is_refused_with_words_like_it(engine):
    n = set_up(engine, "A", "UTC").operation
    wrong = own_threshold(**WHITEFLY | {"taxon": "greenhouse_whitefli"})
    with (
        pytest.raises(SetupRefusedError, match=r"taxon 'greenhouse_whitefli'.*greenhouse_whitefly"),
        writing(engine, n) as s,
    ):
        set_threshold(s, wrong)


def test_records_that_are_not_there_are_told_with_what_to_do(tmp_path):
    engine = open_database(address(tmp_path / "nowhere"))
    with pytest.raises(DatabaseNotReadyError, match=r"no records at .*benchwalk init NAME"):
        ready(engine)
    assert not (tmp_path / "nowhere" / "benchwalk.sqlite").exists()
    engine.dispose()


def test_a_database_without_a_schema_is_told(tmp_path):
    (tmp_path / "benchwalk.sqlite").touch()
    engine = open_database(address(tmp_path))
    with pytest.raises(DatabaseNotReadyError, match="stand at schema -"):
        ready(engine)
    engine.dispose()


def test_migrating_twice_changes_nothing(engine):
    before = schema_of(engine)
    migrate(engine)
    assert schema_of(engine) == before
    assert before[0] == before[1]
    ready(engine)


def test_sqlite_keeps_every_said_word_on_disk_before_it_answers(tmp_path):
    engine = open_database(address(tmp_path))
    with engine.connect() as c:
        found = [c.exec_driver_sql(f"PRAGMA {p}").scalar() for p in ("synchronous", "journal_mode")]
        keys = c.exec_driver_sql("PRAGMA foreign_keys").scalar()
    assert (found, keys) == ([2, "wal"], 1)  # 2: FULL
    engine.dispose()


def test_the_address_comes_from_the_environment_before_the_directory(tmp_path, monkeypatch):
    assert address(tmp_path) == f"sqlite:///{tmp_path}/benchwalk.sqlite"
    monkeypatch.setenv("BENCHWALK_DATABASE", "postgresql://somebody@somewhere/records")
    assert address(tmp_path) == "postgresql+psycopg://somebody@somewhere/records"
