"""What is said of a thing in another clause, or by somebody else, with words of several kinds.

Written from the language: every turn is tried with every word, beside it the turn that says the
contrary, so that neither side can be taken for the other.
"""

from __future__ import annotations

from time import process_time

import pytest
from kikichoko.forms.free_words import read_words
from kikichoko.forms.free_words.clauses import clauses
from kikichoko.forms.free_words.unread import BEHIND, BESIDE, SPELT

FAULTS_EN = {"diacetyl": "buttery", "hineka": "stale", "vinegar": "vinegar"}
FAULTS_JA = {"老ね香": "stale", "酢エチ臭": "solvent", "ツワリ香": "buttery"}
OTHERS_EN = {"banana": "banana", "melon": "melon"}
OTHERS_JA = {"バナナ香": "banana", "メロン香": "melon"}

ABSENT_EN = """
first sniff X, second sniff nothing | I was braced for X and it never came | the X has gone by now
| worried about X, no problem at all | wondered about X, turned out not | they call it X, it isn't
| my neighbour swears X, I do not find it | Sue says X. I get nothing of the sort.
| kept hunting for X and went home empty-handed | X? nothing of the kind
| last year's was all X, this year it is clean
"""
FAULT_EN = """
X, second cup the same | I was braced for X and it came | my neighbour swears X, I agree
| can't say there's no X | nobody could call it free of X | X, not sure though
| retail won't notice the X but I do | it isn't that it lacks X | X blew off
"""
LIKED_EN = """
X, but that's its charm | X, which I rather love | X, and I mean that kindly | X, I don't mind it
| a touch of X, it suits the koshu
"""
NOTHING_EN = """
can't judge the X in this light | would anyone call this X or not? | pass the X
| did they forget the X | would kill for some X
"""
ABSENT_JA = """
Xの心配あったが問題なし | 隣席はXだと。私はわからない | Xという声、そんなことはない
| 先月のXはどこへやら | Xの気配もない
| Xって書こうとしたけどよく嗅いだら違った | Xがせん | Xは出とらん
| 問屋はXと言うけど、うちで利いたら健全 | Xの心配はいらない | Xかとビビったけど乳酸でした
"""
FAULT_JA = """
Xの心配あったが的中 | 隣席はXだと。私もそう思う | Xがないわけではない | Xがないとは言えない
| Xは気にならない程度にある | 鼻ではX、他は良い | Xがすぐ消えた | X、気のせいかも
"""
LIKED_JA = "X、これはこれで好き | X、この燗酒には合っててよい | 軽いX、個人的には大好物"
NOTHING_JA = """
これはXですか? | Xは出てますか? | X出てます? | Xは、酒の話じゃない | Xかな、と誰か。酒の話ではない
"""
CASES = [
    (ABSENT_EN, FAULTS_EN, "absent"),
    (FAULT_EN, FAULTS_EN, "fault"),
    (LIKED_EN, FAULTS_EN, "praised"),
    (NOTHING_EN, {**FAULTS_EN, **OTHERS_EN}, ""),
    ("used to be all X, now honey | was X, now nutty", OTHERS_EN, "absent"),
    ("more X than no. 3 | not the least X of the flight", OTHERS_EN, "noted"),
    (ABSENT_JA, FAULTS_JA, "absent"),
    (FAULT_JA, FAULTS_JA, "fault"),
    (LIKED_JA, FAULTS_JA, "praised"),
    (NOTHING_JA, {**FAULTS_JA, **OTHERS_JA}, ""),
    ("前はX、今は蜂蜜 | Xの気配すらない", OTHERS_JA, "absent"),
    ("Xがないわけではない", OTHERS_JA, "noted"),
]


@pytest.mark.parametrize(
    ("turn", "words", "polarity"),
    [
        (turn.strip(), words, polarity)
        for turns, words, polarity in CASES
        for turn in turns.replace("\n", " ").split("|")
    ],
)
def test_a_turn_over_clauses_says_the_same_of_every_word(turn, words, polarity):
    for word, key in words.items():
        read = read_words(turn.replace("X", word))
        said = {match.polarity for match in read.matches if match.key == key}
        assert said == ({polarity} if polarity else set()), word


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # A whole list denied, against its last thing alone.
        (
            "ジアセ、4VG、酢エチ、いずれも感知せず",
            {"buttery": "absent", "phenolic": "absent", "solvent": "absent"},
        ),
        ("花でも果物でもなく、ただ米", {"flower": "absent", "fruity": "absent", "grain": "noted"}),
        ("酢イソ高くカプなし", {"banana": "noted", "ethyl_caproate": "absent"}),
        # What is said of a thing is denied, not the thing.
        ("酸が尖っていない", {"sour": "noted", "rough": "absent"}),
        ("だれん、ひねん", {"slack": "absent", "stale": "absent"}),
        ("冷たいうちは気づかなかった。ムレ香", {"raw_stale": "fault"}),
        # There in one place and not in another: both are said.
        ("mouldy on the nose", {"musty": "fault", "nose": "noted"}),
        (
            "glue on the nose, none in the mouth",
            {"solvent": "absent", "nose": "noted", "fukumi": "noted"},
        ),
        (
            "nose: banana. mouth: apple",
            {"nose": "noted", "banana": "noted", "fukumi": "noted", "apple": "noted"},
        ),
        # The place of a taste is named with it; a clean finish is one thing.
        ("smoky finish", {"smoky": "fault", "after": "noted"}),
        ("clean finish", {"clean_cut": "praised"}),
        # A doubt about oneself denies nothing, not finding does.
        ("diacetyl? I'm not trained", {"buttery": "fault"}),
        ("diacetyl? I don't get it", {"buttery": "absent"}),
        # Nearer to one than to another; "-san" is no French "without".
        ("butter? closer to yoghurt", {"buttery": "absent", "yoghurt": "noted"}),
        ("butter?", {"buttery": "fault"}),
        ("Aya-san noticed cheese and so did I", {"cheese": "fault"}),
        ("sans cheese", {"cheese": "absent"}),
        # Low and there, against low.
        ("ethyl acetate low but there", {"solvent": "fault"}),
        # Another thing was meant, against what the thing is like.
        ("at first I thought mould, it was my napkin", {"musty": "absent"}),
        ("mould? that's the smell", {"musty": "fault"}),
        # Beside a colour bright is a look.
        ("bright, faint straw colour", {"clear": "noted", "straw_colour": "noted"}),
        ("bright", {"bright": "noted"}),
        # Another thing than the drink, against the drink.
        ("教室の空気が重い", {}),
        ("味が重い", {"heavy": "noted"}),
        ("原料処理が甘い", {}),
        ("後口が甘い", {"after": "noted", "sweet": "noted"}),
        ("my mouth is dry from talking", {}),
        ("the finish is dry", {"dry": "noted"}),
        ("酵母は何号?", {}),
        ("酵母の香り", {"bread": "noted"}),
        # Narrow is too little width, not narrow is width.
        ("narrow", {"width": "too_little"}),
        ("not narrow at all", {"width": "praised"}),
        # Low: of a fault there is none to speak of; of another thing only little.
        ("ethyl acetate low", {"solvent": "absent"}),
        ("acidity is low", {"sour": "noted"}),
        # Forms of comparison, and words that only look like one.
        ("mustier than B", {"musty": "fault"}),
        ("eggier", {"sulphur": "fault"}),
        ("oh the irony", {}),
        ("Saturday", {}),
        ("no 3 is sweet", {"sweet": "noted"}),
        ("no 4VG", {"phenolic": "absent"}),
    ],
)
def test_whole_phrases(text, expected):
    said = {match.key: match.polarity for match in read_words(text).matches}
    assert said == expected


def test_there_and_not_there_stand_side_by_side_with_their_letters():
    text = "glue on nose, none on palate"
    read = read_words(text)
    assert {match.polarity for match in read.matches if match.key == "solvent"} == {
        "fault",
        "absent",
    }
    assert all(text[one.start : one.end] == one.text for one in read.matches)


def test_a_clause_is_told_for_what_it_is():
    text = "my neighbour swears hineka, I do not find it"
    read = read_words(text)
    listed = clauses(text, read.matches, "en")
    assert [text[one.start : one.end] for one in listed] == [
        "my neighbour swears hineka",
        "I do not find it",
    ]
    assert "other" in listed[0].is_
    assert "denies" in listed[1].is_
    assert [len(one.things) for one in listed] == [1, 0]


def test_what_is_left_over_clauses_is_listed_for_a_person():
    for text in ("老ね香は、酒の話じゃない", "the room is musty, dusty", "pass the vinegar"):
        read = read_words(text)
        assert not read.matches
        assert read.unmatched
        assert all(text[one.start : one.end] == one.text for one in read.unmatched)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # A misspelt word beside something unread, against the same alone.
        ("mellon", {"melon": "noted"}),
        ("mellon zorbled", {}),
        ("astringant zorbled", {"astringent": "noted"}),
        # A thing behind something unread beside a person, against either alone.
        ("zorbled my rice", {}),
        ("zorbled rice", {"grain": "noted"}),
        ("my rice", {"grain": "noted"}),
        # Three unread pieces, two of them behind the fault, against two, and against one behind.
        ("宇宙船で老ね香と銀河の旅客", {}),
        ("老ね香と銀河の旅客", {"stale": "fault"}),
        ("宇宙船で銀河の老ね香と旅客", {"stale": "fault"}),
        # A clause that was told for what it is.
        ("my neighbour zorbled, says rubber, I do not find it", {"rubber": "absent"}),
    ],
)
def test_what_stands_among_unread_words_is_left_for_a_person(text, expected):
    read = read_words(text)
    assert {match.key: match.polarity for match in read.matches} == expected
    assert all(text[one.start : one.end] == one.text for one in read.unmatched)
    assert SPELT == 9
    assert BESIDE == 3
    assert BEHIND == 2


@pytest.mark.parametrize(
    "said",
    ["it was ", "later it was ", "really it was now ", "after a while ", "sign of it ", "but no ",
     "今回は", "でも", "全然もう", "いや違う"],
)  # fmt: skip
@pytest.mark.parametrize("start", ["glue? ", "老ね香、"])
def test_a_word_said_over_and_over_takes_no_time(said: str, start: str):
    """An expression that can be read in many ways looks at all of them before it gives up."""
    begun = process_time()
    read_words(start + said * 60 + "zzz")
    assert process_time() - begun < 2


@pytest.mark.parametrize(
    ("remark", "polarity"),
    [("fresh pear, gone quickly", "noted"), ("sulphur, gone after a minute", "absent")],
)
def test_what_goes_quickly_was_there(remark: str, polarity: str):
    assert {match.polarity for match in read_words(remark).matches} == {polarity}
