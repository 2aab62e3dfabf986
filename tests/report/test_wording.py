"""Every word a record can ask for is there, and the sentences are plain."""

import re
import tomllib
from importlib import resources

import pytest

from saltglaze.errors import InputError
from saltglaze.model.appraisal import ChangeKind, Verdict
from saltglaze.model.finding import KINDS, DraftedBy, Feature, Turn
from saltglaze.model.ground import ParcelKind
from saltglaze.model.line import Material, Service
from saltglaze.report.sheet.symbols import SYMBOLS
from saltglaze.report.wording import Words, languages

WORDS = Words()


@pytest.mark.parametrize(
    ("prefix", "values"),
    [
        ("feature", list(Feature)),
        ("plain", list(Feature)),
        ("change_told", list(ChangeKind)),
        ("kind", sorted({k for kinds in KINDS.values() for k in kinds})),
        ("material", list(Material)),
        ("outline", list(ParcelKind)),
        ("legend.outline", list(ParcelKind)),
        ("change", list(ChangeKind)),
        ("verdict", list(Verdict)),
        ("sure.by", list(DraftedBy)),
        ("turn", list(Turn)),
        ("service", list(Service)),
        ("grade", [1, 2, 3, 4, 5]),
        ("month", list(range(1, 13))),
    ],
)
def test_every_value_of_the_records_has_words(prefix, values):
    missing = [v for v in values if not WORDS.get(f"{prefix}.{v}")]
    assert missing == []


def test_every_feature_has_a_symbol_of_its_own():
    assert set(SYMBOLS) == set(Feature)
    assert len({tuple(strokes) for strokes in SYMBOLS.values()}) == len(Feature)


def test_every_key_used_in_the_code_exists():
    used = set()
    root = resources.files("saltglaze.report")
    for folder in (root, root / "sheet", root / "html"):
        for entry in folder.iterdir():
            if entry.name.endswith((".py", ".html")):
                text = entry.read_text(encoding="utf-8")
                used |= set(re.findall(r"""words\(\s*["']([a-z_0-9.]+)["']""", text))
                for key in re.findall(r"""words\.counted\(\s*["']([a-z_0-9.]+)["']""", text):
                    used |= {f"{key}.one", f"{key}.other"}
    assert len(used) > 150
    assert sorted(key for key in used if WORDS.get(key) is None) == []


def test_sentences_are_short_enough_for_a_lay_reader():
    """Mean sentence length of fixed texts under 15 words (plain-language guidance: 15 to 20)."""
    source = resources.files("saltglaze.report") / "texts" / "en.toml"
    table = tomllib.loads(source.read_text(encoding="utf-8"))

    def texts(node):
        for value in node.values():
            if isinstance(value, dict):
                yield from texts(value)
            else:
                yield value

    sentences = [
        s for text in texts(table) for s in re.split(r"(?<=[.!?])\s", text) if s.endswith(".")
    ]
    lengths = [len(s.split()) for s in sentences]
    assert sum(lengths) / len(lengths) < 15
    assert max(lengths) <= 36


def test_lists_are_joined_as_people_do():
    assert WORDS.listed([]) == ""
    assert WORDS.listed(["a"]) == "a"
    assert WORDS.listed(["a", "b", "c"]) == "a, b and c"


def test_an_unknown_language_names_those_there_are():
    assert languages() == ("en",)
    with pytest.raises(InputError, match="en"):
        Words("xx")


def syllables(word):
    """A rough count: groups of vowels, less a silent final e."""
    groups = len(re.findall(r"[aeiouy]+", word.lower()))
    return max(1, groups - (word.lower().endswith("e") and groups > 1))


def test_what_an_owner_reads_first_is_easy_to_read():
    """Flesch-Kincaid grade level under 8 (Kincaid et al. 1975: 0.39 words a sentence
    + 11.8 syllables a word - 15.59; from memory)."""
    source = resources.files("saltglaze.report") / "texts" / "en.toml"
    table = tomllib.loads(source.read_text(encoding="utf-8"))
    text = " ".join([*table["plain"].values(), *table["headline"]["grade"].values()])
    sentences = len(re.findall(r"[.!?]", text))
    words = re.findall(r"[A-Za-z']+", text)
    per_word = sum(syllables(w) for w in words) / len(words)
    assert 0.39 * len(words) / sentences + 11.8 * per_word - 15.59 < 8
