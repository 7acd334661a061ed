"""`check_tables` on a folder with one thing broken: it says which table, row and key."""

import re
import shutil
from importlib.resources import as_file, files

import pytest

from benchwalk.reference import check_tables


@pytest.fixture
def folder(tmp_path):
    with as_file(files("benchwalk.reference") / "tables") as shipped:
        return shutil.copytree(shipped, tmp_path / "tables")


def change(folder, table, old, new, flags=re.MULTILINE):
    """Replace the first match of `old`; a pattern that matches nothing is a broken test."""
    path = folder / f"{table}.csv"
    text = path.read_text(encoding="utf-8")
    changed, n = re.subn(old, new, text, count=1, flags=flags)
    assert n == 1, f"{old!r} is not in {table}.csv"
    path.write_text(changed, encoding="utf-8", newline="\n")


def test_a_copy_with_nothing_broken_has_no_fault(folder):
    assert check_tables(folder) == []


def test_a_row_whose_source_is_missing_is_named_with_its_table_row_and_key(folder):
    change(folder, "thresholds", r"Casey2007,seen", "Nobody1999,seen")
    assert check_tables(folder)[0] == (
        "thresholds.csv, line 18 (tssm_cut_rose_release): source_key 'Nobody1999' is not in "
        "sources.csv; add it there or correct the key"
    )


def test_a_source_that_nobody_uses_is_named(folder):
    change(folder, "sources", r"\A(.*\n)", r"\1Unused2001,,2001,nothing,,,paper,no,\n")
    assert check_tables(folder) == ["sources.csv, Unused2001: no row of any table uses it"]


def test_a_table_that_is_missing_is_named(folder):
    (folder / "practice.csv").unlink()
    assert "practice.csv is missing" in check_tables(folder)


def test_a_file_that_is_no_table_of_the_reference_is_named(folder):
    (folder / "extra.csv").write_text("a\n1\n", encoding="utf-8")
    assert check_tables(folder) == ["extra.csv is no table of the reference"]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "phases.csv is no table: "),
        (b"phase_key\r\nany\r\n", "phases.csv is no table: lines end in LF alone"),
        (b"\xef\xbb\xbfphase_key\n", "phases.csv is no table: lines end in LF alone"),
        (b"phase_key\n\xff\n", "phases.csv is no table: 'utf-8' codec can't decode"),
        (b"a,b\n1,2\n", "phases.csv: the heading does not fit its columns: a, b, name, "),
    ],
    ids=["empty", "CRLF", "byte order mark", "not UTF-8", "other columns"],
)
def test_a_file_that_cannot_be_read_is_a_fault_and_no_crash(folder, content, sentence):
    (folder / "phases.csv").write_bytes(content)
    assert any(fault.startswith(sentence) for fault in check_tables(folder))


BROKEN = {
    # what is wrong: (table, what stands there, what is put there, the sentence)
    "a heading twice": ("phases", r"phase_key,", "name,", r"phases\.csv: the heading"),
    "a cell too few": (
        "practice",
        r"^unit_section,unit_size",
        "unit_section",
        r"practice\.csv, line 4, 8 cells, and the heading has 9",
    ),
    "a number that is none": (
        "growth",
        r"30,0\.198",
        "warm,0.198",
        r"growth\.csv, line 2, column temp_c: 'warm' is not a number",
    ),
    "a number that is not finite": (
        "growth",
        r"30,0\.198",
        "inf,0.198",
        r"growth\.csv, line 2, column temp_c: 'inf' is not a finite number",
    ),
    "a number out of its range": (
        "development",
        r"9\.5,194",
        "25,194",
        r"development\.csv, line 2, column base_c: 25 lies outside -5 to 20",
    ),
    "a part of a whole number": (
        "phases",
        r"^arrival,1",
        "arrival,1.5",
        r"phases\.csv, line 3, column sort_order: '1.5' is not a whole number",
    ),
    "neither yes nor no": (
        "methods",
        r"none,no",
        "none,maybe",
        r"methods\.csv, line 2, column destructive: 'maybe' is neither yes nor no",
    ),
    "a word that is not in the list": (
        "thresholds",
        r"Rettke2009,seen",
        "Rettke2009,sure",
        r"thresholds\.csv, line 2, column status: 'sure' is not one of seen, memory, comp",
    ),
    "a day that is none": (
        "rule_packs",
        r"2026-01-01",
        "2026-02-30",
        r"rule_packs\.csv, line \d+, column effective_from: '2026-02-30' is not a date",
    ),
    "a blank that may not be": (
        "methods",
        r"card,card,no",
        "card,,no",
        r"methods\.csv, line 11, column device: blank, and this column may not be",
    ),
    "spaces around a cell": (
        "crops",
        r"^petunia,",
        "petunia ,",
        r"crops\.csv, line \d+, column crop_key: 'petunia ' has spaces around it",
    ),
    "a key twice": (
        "crops",
        r"^verbena,",
        "petunia,",
        r"crops\.csv: the key petunia stands 2 times",
    ),
    "a range that is turned round": (
        "thresholds",
        r"ceiling,18,30",
        "ceiling,30,18",
        r"thresholds\.csv, line 6 \(wft_card_impatiens\): low 30 > high 18",
    ),
    "a pest that is not in taxa": (
        "thresholds",
        r"none,aphid,winged",
        "none,greenfly,winged",
        r"thresholds\.csv, line 17 .*: taxon_key 'greenfly' is not in taxa\.csv",
    ),
    "one of several keys unknown": (
        "stages",
        r"tap;leaf_count;flower_count",
        "tap;guess;flower_count",
        r"stages\.csv, line 3 .*: method_keys 'guess' is not in methods\.csv",
    ),
    "a taxon above itself": (
        "taxa",
        r"^thrips,pest,group,pest",
        "thrips,pest,group,western_flower_thrips",
        r"taxa\.csv, thrips: is above itself",
    ),
    "a taxon without a parent": (
        "taxa",
        r"^thrips,pest,group,pest",
        "thrips,pest,group,",
        r"taxa\.csv, thrips: a root has no parent, and nothing else is without",
    ),
    "a pest below the natural enemies": (
        "taxa",
        r"^thrips,pest,group,pest",
        "thrips,pest,group,beneficial",
        r"taxa\.csv, thrips: is pest, and beneficial is beneficial",
    ),
    "an EPPO code twice": (
        "taxa",
        r"TRIAVA",
        "FRANOC",
        r"taxa\.csv, greenhouse_whitefly: EPPO code FRANOC stands at another taxon too",
    ),
    "an EPPO code that nobody saw": (
        "taxa",
        r"TRIAVA,secondary",
        "TRIAVA,",
        r"taxa\.csv, greenhouse_whitefly: an EPPO code says where it was seen",
    ),
    "a taxon without a Spanish name": (
        "taxon_names",
        r"^trips de la cebolla,es,onion_thrips.*\n.*\n",
        "",
        r"taxa\.csv, onion_thrips: has no name in 'es' in taxon_names\.csv",
    ),
    "a crop without an English name": (
        "crop_names",
        r"^basil,en,basil.*\n",
        "",
        r"crops\.csv, basil: has no name in 'en' in crop_names\.csv",
    ),
    "an older name that no sheet can use": (
        "taxon_names",
        r"^Atheta coriaria,.*\n",
        "",
        r"taxon_aliases\.csv, Atheta coriaria older_name: is not in taxon_names\.csv",
    ),
    "an own word that claims a paper": (
        "phases",
        r"Design,own",
        "Casey2007,own",
        r"phases\.csv, any: status own belongs to this project's words",
    ),
    "general knowledge that was seen": (
        "crops",
        r"Untraced,memory",
        "Untraced,seen",
        r"crops\.csv, any_edible: Untraced is no publication, so the status is memory",
    ),
    "common practice that was seen": (
        "reference_methods",
        r"CommonPractice,memory",
        "CommonPractice,seen",
        r"reference_methods\.csv, .*: CommonPractice is no publication",
    ),
    "a producer's sheet that is trusted": (
        "thresholds",
        r"trade_sheet,weak",
        "trade_sheet,seen",
        r"thresholds\.csv, tssm_foliage_.*: a producer's sheet is a weak source",
    ),
    "a stage scouted in no way": (
        "stages",
        r"^slug_snail,adult,3,adult,yes,[^,]*",
        "slug_snail,adult,3,adult,yes,",
        r"stages\.csv, slug_snail adult: is scouted, and no method says how",
    ),
    "a gap in the order of stages": (
        "stages",
        r"^slug_snail,adult,3",
        "slug_snail,adult,4",
        r"stages\.csv, slug_snail: the order has a gap",
    ),
    "a set of stages that are not there": (
        "stage_sets",
        r"^aphid,immature,nymph",
        "aphid,immature,pupa",
        r"stage_sets\.csv, aphid immature pupa: aphid has no stage pupa",
    ),
    "a set with the name of a stage": (
        "stage_sets",
        r"^aphid,immature,nymph",
        "aphid,winged,nymph",
        r"stage_sets\.csv, aphid winged nymph: winged is a stage of aphid already",
    ),
    "a word for no stage": (
        "stage_vocabulary",
        r"^soil_stage,",
        "soil_life,",
        r"stage_vocabulary\.csv, soil_life: is neither a stage nor a set of any taxon",
    ),
    "a threshold for a stage the pest has not": (
        "thresholds",
        r"none,aphid,winged",
        "none,aphid,pupa",
        r"thresholds\.csv, aphid_winged_card: aphid has no stage or set pupa",
    ),
    "a target stage the pest has not": (
        "natural_enemies",
        r"greenhouse_whitefly,nymph_3_4,preventive",
        "greenhouse_whitefly,larva,preventive",
        r"natural_enemies\.csv, .*: greenhouse_whitefly has no stage or set larva",
    ),
    "a span that runs backwards": (
        "development",
        r"egg,pupa,,9\.5,194",
        "adult,pupa,,9.5,194",
        r"development\.csv, Katayama1997_1: adult to pupa is no span of its stages",
    ),
    "two defaults for one span": (
        "development",
        r"7\.9,268,,,alternative",
        "7.9,268,,,default",
        r"development\.csv: 2 defaults for western_flower_thrips development egg pupa None",
    ),
    "a default from memory": (
        "development",
        r"chrysanthemum,default,,Katayama1997,,seen",
        "chrysanthemum,default,,Katayama1997,,memory",
        r"development\.csv, Katayama1997_1: a default does not rest on memory",
    ),
    "a default without a constant": (
        "development",
        r"9\.5,194,,chrys",
        "9.5,,,chrys",
        r"development\.csv, Katayama1997_1: a default has a base and a constant",
    ),
    "a default measured on another species": (
        "development",
        r"^(Katayama1997_1,western_flower_thrips),western_flower_thrips",
        r"\1,onion_thrips",
        r"development\.csv, Katayama1997_1: measured on onion_thrips, not on western_",
    ),
    "a growth rate at no temperature": (
        "growth",
        r"30,0\.198",
        ",0.198",
        r"growth\.csv, Katayama1997_r1: usable, and the temperature is not known",
    ),
    "a threshold without a number": (
        "thresholds",
        r"ceiling,40,,yes",
        "ceiling,,,yes",
        r"thresholds\.csv, wft_card_poinsettia: has neither a low nor a high end",
    ),
    "a default threshold from memory": (
        "thresholds",
        r"yes,Rettke2009,seen,starting",
        "yes,Rettke2009,memory,starting",
        r"thresholds\.csv, wft_card_any_ornamental: a shipped default does not rest on memory",
    ),
    "a ratio to nobody": (
        "thresholds",
        r"release_ratio,encarsia_formosa",
        "release_ratio,",
        r"thresholds\.csv, ratio_encarsia_mixed: a ratio needs the enemy",
    ),
    "a card read over another time": (
        "thresholds",
        r"ceiling,40,,yes,7",
        "ceiling,40,,yes,5",
        r"thresholds\.csv, wft_card_poinsettia: counts 5\.0 days, its quantity 7\.0",
    ),
    "an enemy that is a pest": (
        "thresholds",
        r"release_ratio,encarsia_formosa",
        "release_ratio,whitefly",
        r"thresholds\.csv, ratio_encarsia_mixed: whitefly is pest, and must be beneficial",
    ),
    "a virus that is an insect": (
        "viruses",
        r"thrips,insv,transmits",
        "thrips,aphid,transmits",
        r"viruses\.csv, western_flower_thrips aphid: aphid is pest, and must be pathogen",
    ),
    "a look-alike of itself": (
        "lookalikes",
        r"^western_flower_thrips,onion_thrips",
        "western_flower_thrips,western_flower_thrips",
        r"lookalikes\.csv, .*: looks like itself",
    ),
    "a look-alike and a cause": (
        "lookalikes",
        r"^broad_mite,,herbicide_injury",
        "broad_mite,cyclamen_mite,herbicide_injury",
        r"lookalikes\.csv, .*: a look-alike or a cause, one of the two",
    ),
    "an agent that is unknown": (
        "compatibility",
        r"^active,abamectin,amblyseius",
        "active,abracadabra,amblyseius",
        r"compatibility\.csv, .*: 'abracadabra' is no active of the tables",
    ),
    "a class from nowhere": (
        "compatibility",
        r"4,4,inferred",
        "4,4,none",
        r"compatibility\.csv, .*: a class says where it comes from, and only a class does",
    ),
    "an exempt code that counts": (
        "actives",
        r"IRAC,13,13,([^,]*),no,",
        r"IRAC,13,13,\1,yes,",
        r"actives\.csv, .*: rotation_group yes is against rotation_exempt",
    ),
    "a rotating code without a group": (
        "actives",
        r"IRAC,1A,1A,1,yes",
        "IRAC,1A,1A,,yes",
        r"actives\.csv, carbaryl IRAC: counts in a rotation, and has no main group",
    ),
    "a code without an edition": (
        "actives",
        r",IRAC v11\.5 \(2026-02\),",
        ",,",
        r"actives\.csv, carbaryl IRAC: a code needs the edition of its scheme",
    ),
    "a code unlike its print": (
        "actives",
        r"IRAC,1A,1A,1,yes",
        "IRAC,1A,1B,1,yes",
        r"actives\.csv, carbaryl IRAC: code 1A is printed 1B",
    ),
    "no scheme and yet exempt": (
        "actives",
        r",none,,,,unknown,",
        ",none,,,,no,",
        r"actives\.csv, .* none: without a scheme it has no code, and its group is unknown",
    ),
}


@pytest.mark.parametrize("case", BROKEN, ids=str)
def test_a_broken_table_is_named(folder, case):
    table, old, new, sentence = BROKEN[case]
    change(folder, table, old, new)
    faults = check_tables(folder)
    assert any(re.match(sentence, fault) for fault in faults), faults[:10]
