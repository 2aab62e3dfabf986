"""Taking known texts out of sentences."""

import pytest

from saltglaze.exchange.known_names import LABEL, WORDS, Known, is_ordinary
from saltglaze.exchange.scrub import scrubber

OWNER = Known("Maren Thistlewood", "the owner", always=True)
TALK = Known("So the Pemberly boy put a tee in at forty feet.", WORDS)


@pytest.mark.parametrize(
    ("sentence", "left"),
    [
        ("This part belongs to Maren Thistlewood.", "This part belongs to the owner."),
        ("MAREN  thistlewood keeps it", "the owner keeps it"),
        ("parcel (Maren Thistlewood)", "parcel (the owner)"),
        ("Thistlewoodian clay", "Thistlewoodian clay"),
        ("they said “the Pemberly boy”", f"they said ({WORDS})"),
        ('they said "put a tee in" there', f"they said ({WORDS}) there"),
        ("heard 'put a tee in', understood", f"heard ({WORDS}), understood"),
        ("the pipe's joint and the owner's tap", "the pipe's joint and the owner's tap"),
        ('by the word "heavy"', 'by the word "heavy"'),
        ("by August 12, 2026", "by August 2026"),
        ("by 12 August 2026", "by August 2026"),
        ("on 2026-08-12 it", "on 2026-08 it"),
        ("29 CFR 1926 Subpart P", "29 CFR 1926 Subpart P"),
    ],
)
def test_a_sentence_loses_what_it_knows_and_keeps_the_rest(sentence, left):
    assert scrubber([OWNER, TALK], {})(sentence) == left


def test_a_trade_word_as_a_name_goes_only_as_it_is_spelled():
    scrub = scrubber([Known("Clay", "the owner", always=True)], {})
    assert scrub("Clay owns the clay pipe") == "the owner owns the clay pipe"


def test_a_label_of_ordinary_words_stays_in_sentences():
    scrub = scrubber([Known("house", LABEL), Known("SW", LABEL), Known("Lot 9b-Q", LABEL)], {})
    assert scrub("SW of the house on Lot 9b-Q") == f"SW of the house on {LABEL}"


def test_the_longer_text_goes_first():
    known = [Known("Alder Quay", "the place"), Known("Alder Quay Drains", "the firm")]
    assert scrubber(known, {})("call Alder Quay Drains") == "call the firm"


def test_ids_get_their_new_names():
    scrub = scrubber([], {"run1-0105-roots": "finding-3", "P4": "P-4", "12": "level-1"})
    assert scrub("P4 and run1-0105-roots, 12 ft") == "P-4 and finding-3, 12 ft"


def test_writing_without_spaces_is_searched_too():
    assert (
        scrubber([Known("陶土管理", "the firm", always=True)], {})("由陶土管理公司")
        == "由the firm公司"
    )


def test_nothing_known_changes_nothing():
    assert scrubber([Known("", "x", always=True), Known("  ", "x")], {})("as it was") == "as it was"


def test_ordinary_words_hold_no_name_of_the_invented_job():
    names = ("Thistlewood", "Maren", "Ferrule", "Brindlewick", "Okonta", "Ashgrove", "Fennel")
    assert [name for name in names if is_ordinary(name)] == []
    assert is_ordinary("root cutter, 4 jets")
