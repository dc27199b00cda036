"""Turns of speech around a word, as people write them on sheets, with words of several kinds.

Written from the language, not from any list of phrases: every turn is tried with every word, so a
frame that knows only one word fails.
"""

from __future__ import annotations

import pytest
from kikichoko.forms.free_words import read_words

FAULTS_EN = {"diacetyl": "buttery", "hineka": "stale", "vinegar": "vinegar", "rubber": "rubber"}
OTHERS_EN = {"banana": "banana", "umami": "umami", "acidity": "sour"}
FAULTS_JA = {"老ね香": "stale", "酢エチ臭": "solvent", "ツワリ香": "buttery", "雑味": "cluttered"}
OTHERS_JA = {"酸味": "sour", "旨味": "umami", "バナナ香": "banana"}

ABSENT_EN = """
X: nil | X 0 | X n.d. | w/o X | X not noted | X, none found | suspected X, not confirmed
| X negative | X has completely gone | neighbour swears X, I get nothing of the sort
| X entirely absent
| not picking up X | didn't get any X | X below threshold | I was looking for X but found none
"""
HARDLY_EN = "very little X | X: hardly any | precious little X | minimal X | X negligible"
THERE_EN = """
X | X suspected | no mistaking the X | can't shake the X | X weaker than last time | not free of X
| the X hasn't gone | X just above threshold | X, minor | less X than A
"""
NOTHING_EN = """
could someone explain X | how do you spell X | I have never smelled X | who can tell me what X is
| pair w/ X | where is X on the sheet? | I still have to learn what X is | is there any X?
"""
LITTLE_EN = """
more X please | wants more X | if only it had more X | low on X | deserves more X | I'd want more X
"""
MUCH_EN = """
less X please | X needs reining in | X overload | tone down the X | an overdose of X | X OTT
| X, too much | X. Too much. | X sticks out
"""
PRAISED_EN = "X nicely done | X saves it | the X makes it | X, gorgeous | X just right"
ABSENT_JA = """
Xは出てこない | Xは取れない | スタッフはXと言ってたが私はそう思わない | X無 | Xには至らず
| X閾値以下 | X検出せず | Xは皆無 | Xを感じさせない
"""
THERE_JA = """
X | XはA酒ほどではない | Xは先月より落ち着いたがまだある | Xで間違いない | Xさえなければ良い
| Xを否定できない | Xがなくならない | Xがなければ満点 | X?気のせいか
"""
NOTHING_JA = """
Xかどうか聞きたい | Xはどの欄ですか | Xの定義は? | Xの見分け方を知りたい | Xがどんなものか知らない
| どなたかXを持ち込んでます? | Xを嗅いだことがない
"""
LITTLE_JA = """
もっとXを | Xがもう少しあってもよかった | もう少しXがあっていい | Xに期待したい | もっとXがあれば
"""
MUCH_JA = "X、やりすぎ | X抑えてほしい | X抑えたほうが良い | Xが目立ちすぎて疲れる"
PRAISED_JA = "Xが決まっている | Xが光る | Xが頼もしい | X良し | Xが心地よい"

CASES = [
    (ABSENT_EN, {**FAULTS_EN, **OTHERS_EN}, "absent"),
    (HARDLY_EN, FAULTS_EN, "absent"),
    (THERE_EN, FAULTS_EN, "fault"),
    (NOTHING_EN, {**FAULTS_EN, **OTHERS_EN}, ""),
    (LITTLE_EN, OTHERS_EN, "too_little"),
    (MUCH_EN, OTHERS_EN, "too_much"),
    (PRAISED_EN, {"banana": "banana", "acidity": "sour"}, "praised"),
    (ABSENT_JA, {**FAULTS_JA, **OTHERS_JA}, "absent"),
    (THERE_JA, FAULTS_JA, "fault"),
    (NOTHING_JA, {**FAULTS_JA, **OTHERS_JA}, ""),
    (LITTLE_JA, OTHERS_JA, "too_little"),
    (MUCH_JA, OTHERS_JA, "too_much"),
    (PRAISED_JA, OTHERS_JA, "praised"),
]


@pytest.mark.parametrize(
    ("turn", "words", "polarity"),
    [
        (turn.strip(), words, polarity)
        for turns, words, polarity in CASES
        for turn in turns.replace("\n", " ").split("|")
    ],
)
def test_a_turn_says_the_same_of_every_word(turn, words, polarity):
    for word, key in words.items():
        said = {match.key: match.polarity for match in read_words(turn.replace("X", word)).matches}
        assert said == ({key: polarity} if polarity else {}), word


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # What only describes the thing beside it, against the same word alone.
        ("lively fizz", {"prickle": "noted"}),
        ("lively", {"bright": "noted"}),
        ("dusty attic", {"dusty": "fault"}),
        ("smells of an attic", {"musty": "fault"}),
        ("nigori, milky", {"cloudy": "noted"}),
        ("fresh milk", {"milk": "noted"}),
        ("CO2 too aggressive", {"prickle": "too_much"}),
        ("aggressive", {"rough": "fault"}),
        ("stewed, got hot in transit", {"cooked": "fault"}),
        ("hot", {"alcohol_burn": "noted"}),
        ("傷んだりんご、アルデヒドでしょう", {"green_wood": "fault"}),
        ("ざらつく舌触り、澱か", {"grainy": "fault"}),
        ("アルコールの辛みがピリッとくる", {"alcohol_burn": "noted"}),
        ("ピリッと", {"prickle": "noted"}),
    ],
)
def test_a_word_that_only_describes_is_no_statement(text, expected):
    found = {match.key: match.polarity for match in read_words(text).matches}
    assert found == expected


def test_what_is_left_for_a_person_keeps_its_letters():
    for text in ("how does one spell umami", "dusty attic", "老ね香かどうか先生に聞きたい"):
        read = read_words(text)
        kept = {(one.start, one.end) for one in (*read.matches, *read.unmatched)}
        assert all(text[one.start : one.end] == one.text for one in read.unmatched)
        assert kept
