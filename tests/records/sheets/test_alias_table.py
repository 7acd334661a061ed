"""The words for pests, against the nouns in them: no alias may stand for an animal of another kind.

The nouns and what they name are common practice, no source. `aliases.csv` is the table as it was
looked through once (own regression): a word may be added, and none may change its animal unseen.
"""

import csv
import re
from collections import defaultdict
from pathlib import Path

from benchwalk.records.sheets.words import fold
from benchwalk.reference import ancestors, taxon_names
from tests.in_turn import each_of

# a noun of a name -> the groups that a name with it can be in
NOUNS = {
    r"(thrips|trips|fransenflugler|blasenfu(ss|ß)\w*)": ("thrips",),
    r"(white ?fl(y|ies)|whiteflys|moscas? blancas?|mosquitas? blancas?|wei(ss|ß)e fliegen?)": (
        "whitefly",
    ),
    r"(aphids?|pulgon(es)?|afidos?|\w*blattl(aus|ause)|greenfly|plant lice)": ("aphid",),
    r"(spider ?mites?|aranas? rojas?|spinnmilben?|aranitas?)": ("spider_mite",),
    r"(mealy ?bugs?|cochinillas? harinosas?|piojos? harinosos?|\w*(schmier|woll)l(aus|ause))": (
        "mealybug",
    ),
    r"(gnats?|sciarids?|trauermucken?|mosc(a|o)s? negr(a|o)s?|mosc(a|o)s? del? sustrato)": (
        "fungus_gnat",
        "moth_fly",
    ),
    r"(shore ?fl(y|ies)|sumpffliegen?|uferfliegen?|salzfliegen?)": ("shore_fly",),
    r"(leaf ?miners?|minador(es)?( de (la )?hojas?)?|minierfliegen?)": (
        "leafminer",
        "tomato_leafminer_moth",
    ),
    r"(caterpillars?|orugas?|raupen?|loopers?|armyworms?|moths?|palomillas?|gusanos?|\w*eulen?)": (
        "caterpillar",
        "chafer",
        "whitefly",
        "moth_fly",
    ),
    r"(slugs?|snails?|babosas?|caracol(es)?|\w*schnecken?)": ("slug_snail",),
    r"(beetles?|weevils?|gorgojos?|escarabajos?|chafers?|\w*kafer)": (
        "beetle",
        "ladybird",
        "beneficial",
    ),
    r"(leaf ?hoppers?|chicharritas?|\w*zikaden?)": ("leafhopper",),
    r"(\w*schildl(aus|ause)|scales?|scale insects?|escamas?|cochinillas?)": (
        "scale",
        "mealybug",
        "whitefly",
    ),
}
# what eats or parasitises an animal may be named after it
ENEMY = re.compile(
    r"parasitoid|avispita|midge|come ?-?|ladybird|lady beetle|marienkafer|destroyer|rove|dalotia"
    r"|predatory|depredador"
)
LOOKED_THROUGH = Path(__file__).parent / "aliases.csv"


def groups(key):
    return {key, *ancestors(key)}


def meant(name):
    """The groups of the first noun that a name ends, or in Spanish begins, with."""
    text = fold(name).split(",")[0]
    text = re.sub(r"\s*\(.*", "", text)
    for noun, held in NOUNS.items():
        if re.search(rf"(^|[\s-]){noun}$", text) or re.search(rf"^{noun}(\s|$)", text):
            return held
    return None


NAMED = [n for n in taxon_names() if n.language in ("en", "es", "de") and meant(n.name)]


def test_most_of_the_words_have_such_a_noun():
    assert len(NAMED) > 450


@each_of("name", NAMED)
def test_an_alias_stands_for_an_animal_of_the_kind_its_noun_names(name):
    if ENEMY.search(fold(name.name)):
        assert "beneficial" in groups(name.taxon_key)
    else:
        assert groups(name.taxon_key) & {*meant(name.name)}


def test_no_alias_has_changed_its_animal_since_the_table_was_looked_through():
    with LOOKED_THROUGH.open(encoding="utf-8", newline="") as file:
        seen = {(row["name"], row["taxon_key"]) for row in csv.DictReader(file)}
    assert len(seen) > 1_700
    assert seen - {(n.name, n.taxon_key) for n in taxon_names()} == set()


def test_one_and_many_of_an_animal_are_the_same_animal():
    """A plural that is written for fewer animals than its singular, or for others, is a slip."""
    keys = defaultdict(set)
    for n in taxon_names():
        keys[fold(n.name)].add(n.taxon_key)
    pairs = [(one, f"{one}s") for one in keys if f"{one}s" in keys]
    assert len(pairs) > 150
    assert [(one, many) for one, many in pairs if keys[one] != keys[many]] == []
