"""Distances called out aloud: "forty two feet", "12.3 on the counter", "at sixty"."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.model.run import LengthUnit
from saltglaze.model.talk import SpokenStation
from saltglaze.narration.amounts import Amount
from saltglaze.narration.numbers import Measure
from saltglaze.narration.reading import Reading
from saltglaze.narration.sizes import estimate
from saltglaze.narration.tables import word_set
from saltglaze.narration.words import Sentence

_COUNTER = word_set("stations", "counter")
_BEFORE = word_set("stations", "before")
_FILLER = word_set("stations", "filler")
_NOT_AFTER = word_set("stations", "not_after")
_NOT_BEFORE = word_set("stations", "not_before")
_AT_END = word_set("stations", "at_end")


def unit_of(sentences: Sequence[Sentence]) -> LengthUnit | None:
    """Return the unit a talk counts in, told by the unit words in it; ``None`` if it has none.

    Words for long lengths decide: who says metres may well say inches of a gap.
    """
    words = [word.text for sentence in sentences for word in sentence.words]
    for metric, imperial in ((_METRES, _FEET), (_METRIC, _IMPERIAL)):
        in_metres = sum(word in metric for word in words)
        in_feet = sum(word in imperial for word in words)
        if in_metres != in_feet:
            return LengthUnit.METRES if in_metres > in_feet else LengthUnit.FEET
    return LengthUnit.METRES if in_metres else None


_METRES = frozenset({"metre", "metres", "meter", "meters"})
_FEET = frozenset({"foot", "feet", "ft"})
_METRIC = word_set("stations", "metric")
_IMPERIAL = word_set("stations", "imperial")


_BACK_M = 1.5
"""Distances called out run forward; one this far back is a length, unless said with "at"."""


def is_station(reading: Reading, index: int) -> bool:  # noqa: PLR0911 - one guard a rule
    """Whether the length at ``index`` is a distance called out."""
    amount = reading.amounts[index]
    if amount.measure is not Measure.LENGTH or amount.unit in ("in", "mm", "cm", "yd"):
        return False
    words = reading.words
    before = [word for word in words[max(0, index - 4) : index] if word[0].isalnum()]
    after = words[index + 1] if index + 1 < len(words) else ""
    if _COUNTER & set(words[max(0, index - 4) : index + 5]):
        return True
    if amount.value < reading.furthest_m - _BACK_M and before[-1:] != ["at"]:
        return False
    if index == 0 and amount.value > 3.0 and after in _OPENING:
        return True
    if _plural_ahead(reading, index, before, after):
        return True  # "sixty one feet catch basin"
    if after in _NOT_AFTER or (before and before[-1] in _NOT_BEFORE):
        return False
    if _opens_further(reading, index, before) or _ends_further(reading, index, before):
        return True  # "ten point three metres pit one", "water quits at nine feet"
    if before[-2:-1] and before[-2] in _NOT_BEFORE and before[-1] in ("about", "maybe", "the"):
        return False
    if before and before[-1] in _BEFORE:
        return True
    if after in ("in", "mark", "out", "even", "on", "from", "now", "here", "and", "to", "at"):
        return all(word in _FILLER for word in before) or after in ("in", "mark", "out", "even")
    tail = reading.amounts.get(index + 1)
    if tail is not None and tail.measure is Measure.NUMBER:
        after = words[index + 2] if index + 2 < len(words) else ""
    alone = not after or not after[0].isalnum()
    lasting = "for" in words[max(0, index - 7) : index]
    if alone and _own_segment(reading, index) and amount.value > 0.9 and not lasting:
        return True
    leading = all(word in _FILLER for word in before)
    return leading and (alone or after in _GOES_ON)


def _plural_ahead(reading: Reading, index: int, before: list[str], after: str) -> bool:
    """Whether a length said in the plural opens or closes a remark and lies ahead.

    A thing is eight foot long, but a crack at eight feet.
    """
    amount = reading.amounts[index]
    step = amount.value - reading.furthest_m
    if not amount.plural or not 0.0 <= step <= _LONGEST_STEP_M or amount.rough:
        return False
    if all(word in _FILLER for word in before):
        return bool(after) and after[0].isalpha() and after not in _MEASURES
    leads = before[-1] in _NOT_BEFORE or before[-1] in _ABOUT
    return not after and not leads and amount.value > _FAR_M


_MEASURES = word_set("stations", "measures")
_ABOUT = frozenset({"about", "roughly", "maybe", "say", "than", "like", "of", "run", "around"})
_FAR_M = 3.5


def _opens_further(reading: Reading, index: int, before: list[str]) -> bool:
    """Whether a length opens the sentence and lies ahead of all called out so far."""
    step = reading.amounts[index].value - reading.furthest_m
    opens = all(word in _FILLER for word in before)
    return opens and index < _OPENS_WITHIN and 0.0 <= step <= _LONGEST_STEP_M


def _ends_further(reading: Reading, index: int, before: list[str]) -> bool:
    """Whether a length closes the remark behind a word of passing on, and lies ahead."""
    step = reading.amounts[index].value - reading.furthest_m
    closes = not reading.words[index + 1 : index + 2] or reading.words[index + 1][0] in ".,;?"
    passing = before[-1:] and (before[-1] in _PASSING or before[-2:-1] == ["right"])
    near = before[-1:] != [] and before[-1] in _BY
    passing = bool(passing) or (near and (_over(reading) or before[-2:-1][:1] in _QUITS))
    return bool(closes and passing) and 0.0 <= step <= _LONGEST_STEP_M


_QUITS = (["quits"], ["ends"], ["stops"], ["finishes"], ["up"], ["off"])


def _over(reading: Reading) -> bool:
    return bool(reading.acts("finish"))


_BY = frozenset({"around", "about", "by", "near"})
_POINTERS = frozenset({"it", "that", "again", "agin", "there", "through", "threw"})
_PASSING = word_set("stations", "passing")
_OPENS_WITHIN = 4
_HOURS = 12.0
_SUBJECTS = frozenset({"the", "they", "there's", "you", "we", "it", "a", "he", "she", "this"})
_GOES_ON = word_set("stations", "goes_on")
_OPENING = word_set("stations", "opening")
_AFTER_BARE = word_set("stations", "after_bare")


def _own_segment(reading: Reading, index: int) -> bool:
    """Whether the amount stands alone between commas or ends ("clean-out, thirty one feet")."""
    before = reading.words[index - 1] if index else ","
    after = reading.words[index + 1] if index + 1 < len(reading.words) else "."
    return (
        not before[0].isalnum()
        and before[0] != "<"
        and not after[0].isalnum()
        and (after[0] != "<")
    )


def station_in(
    reading: Reading, unit: LengthUnit | None, furthest_m: float
) -> SpokenStation | None:
    """Return the distance called out in a sentence, if any.

    A bare number counts only where it stands for itself or beside a counter word, in
    the unit of the other call-outs, and where it does not run back far.
    """
    for index, amount in reading.amounts.items():
        if is_station(reading, index):
            return _spoken(reading, index, _decimal_after(reading, index, amount))
    if unit is None:
        return None
    digits = _one_and_tenths(reading)
    if unit is LengthUnit.METRES and digits is not None and digits >= furthest_m - 0.35:
        return _spoken(reading, 1, Amount(Measure.LENGTH, digits, unit=unit.value))
    factor = 0.3048 if unit is LengthUnit.FEET else 1.0
    for index in reading.amounts:
        if _bare_station(reading, index, unit, furthest_m):
            value = _told(reading, index, unit, furthest_m) * factor
            return _spoken(reading, index, Amount(Measure.LENGTH, value, unit=unit.value))
    return None


def _one_and_tenths(reading: Reading) -> float | None:
    """Read "one two, and there it is" as 1.2: a lone "one" is no amount elsewhere."""
    tenths = reading.amounts.get(1)
    if tenths is None or reading.words[0] != "one" or tenths.measure is not Measure.NUMBER:
        return None
    alone = reading.words[2:3] in ((), (",",), (".",))
    digit = not tenths.fraction and tenths.to is None and tenths.value in range(1, 10)
    return 1.0 + tenths.value / 10.0 if alone and digit else None


def _decimal_after(reading: Reading, index: int, amount: Amount) -> Amount:
    """Read "nine metres point one": the decimals may follow the unit."""
    following = reading.amounts.get(index + 1)
    if following is not None and following.measure is Measure.NUMBER and not following.fraction:
        if amount.unit == "m" and following.value in range(5, 100):
            return Amount(Measure.LENGTH, amount.value + following.value / 100.0, unit="m")
        if amount.unit == "ft" and following.value in range(1, 12):
            return Amount(Measure.LENGTH, amount.value + following.value * 0.0254, unit="ft")
    if (
        following is not None
        and following.measure is Measure.NUMBER
        and 0 < following.value < 1
        and not following.fraction
    ):
        factor = 0.3048 if amount.unit == "ft" else 1.0
        return Amount(Measure.LENGTH, amount.value + following.value * factor, unit=amount.unit)
    return amount


def _told(reading: Reading, index: int, unit: LengthUnit, furthest_m: float) -> float:
    """Read "three ninety" as 3.90 metres and "twenty one six" as 21.6."""
    value = reading.amounts[index].value
    following = reading.amounts.get(index + 1)
    if unit is LengthUnit.METRES and 100 <= value < 2000 and value > furthest_m + 40:
        return value / 100.0
    if following is not None and following.measure is Measure.NUMBER and value < 100:
        whole = following.value == int(following.value) and value == int(value)
        if whole and 1 <= following.value <= 9:
            return value + following.value / 10.0
    return value


_LONGEST_STEP_M = 18.0
"""Between two call-outs nobody stays silent for longer than this; bigger jumps are no distances."""


def _bare_station(reading: Reading, index: int, unit: LengthUnit, furthest_m: float) -> bool:
    """Whether a number without a unit is a distance called out, in the unit of the talk."""
    amount = reading.amounts[index]
    if amount.measure is not Measure.NUMBER or amount.fraction or amount.to is not None:
        return False
    if amount.rough or not 0.0 < amount.value < 1500.0:
        return False
    words = reading.words
    if _COUNTER & set(words[max(0, index - 4) : index + 4]):
        return True
    factor = 0.3048 if unit is LengthUnit.FEET else 1.0
    told_m = _told(reading, index, unit, furthest_m) * factor
    forward = furthest_m - 0.35 <= told_m <= furthest_m + _LONGEST_STEP_M
    return forward and _stands_free(reading, index) and _leads(reading, index, furthest_m)


def _stands_free(reading: Reading, index: int) -> bool:
    """Whether nothing follows that the number could count."""
    tail = reading.amounts.get(index + 1)
    next_at = index + 1 + (tail is not None and tail.measure is Measure.NUMBER)
    after = reading.words[next_at] if next_at < len(reading.words) else ""
    if not after or (not after[0].isalnum() and after[0] not in "<'"):
        return True
    value = reading.amounts[index].value
    opens = value % 1 > 0 and index == (reading.words[0] == "at")  # "five point two junction"
    if index == 0 and value > _HOURS and after[0].isalpha() and reading.furthest_m > 0.0:
        return True  # "twenty six the next stack"
    if index == 1 and reading.words[0] == "at" and after in _SUBJECTS:
        return True  # "at eighteen they switched"
    return after in _AFTER_BARE or (opens and after[0].isalpha())


def _leads(reading: Reading, index: int, furthest_m: float) -> bool:
    """Whether the number opens the sentence, follows "at", or stands between commas."""
    words, value = reading.words, reading.amounts[index].value
    before = [word for word in words[:index] if word[0].isalnum() and not word.startswith("<")]
    hour = value <= 12 and value == int(value)
    if all(word in _FILLER for word in before):
        opening = index <= 1 and before in ([], ["at"]) and furthest_m > 0.0
        return not (hour and before) or opening
    if furthest_m <= 0.0 or hour or 100 <= value < 1000:
        return False
    if words[index - 1] == "at" or _own_segment(reading, index):
        return True
    return words[index - 1] in _PASSING - _POINTERS or words[index - 2 : index] in _PASSING_ABOUT


_PASSING_ABOUT = (("ends", "about"), ("out", "about"), ("ends", "around"), ("off", "by"))


def _spoken(reading: Reading, index: int, amount: Amount) -> SpokenStation:
    return SpokenStation(
        time_s=round(reading.times[index][0], 2),
        distance_m=estimate("station", amount),
        text=reading.text,
    )
