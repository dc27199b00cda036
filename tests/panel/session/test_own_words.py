"""A session's own words are ticked, drawn and read in free text."""

from __future__ import annotations

from kikichoko.forms.free_words import read_words
from kikichoko.panel.base.words import say
from kikichoko.panel.session.own_words import own_vocabulary
from kikichoko.panel.session.term_tree import word_tree


def test_own_words_stand_on_the_wheel_and_are_read():
    wishes = [
        {"key": "loquat", "label": {"en": "loquat", "ja": "びわ"}, "group": "stone_berry"},
        {"key": "our_well", "label": "our well", "synonyms": ["well water"]},
        {"key": "quince", "label": "quince", "synonyms": ["membrillo"]},
    ]
    made, wrong = own_vocabulary(wishes, [{"key": "press_room", "label": "press room"}])
    assert wrong == ()
    assert made["press_room"].fault
    assert made["quince"].label.to("ja") == "かりん"
    read = read_words("loquats, well water, membrillo", made)
    assert read.present == ("loquat", "our_well", "quince")
    tree = word_tree(["aroma:our_well", "aroma:loquat"], words=made)
    assert tree["family"].tolist() == ["Fruit and flowers", "Own terms"]


def test_a_wrong_group_is_told_with_the_right_ones():
    _, wrong = own_vocabulary([{"key": "loquat", "group": "fruits"}])
    (fault,) = wrong
    said = say(
        f"folder.own_{fault.kind}", term=fault.term, found=fault.found, expected=fault.expected
    )
    assert "stone_berry" in said
