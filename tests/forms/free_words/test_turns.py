"""Classes of English speech around a word, each on both sides: what they turn, and what they leave.

Written with `tests/outside/words/turns.csv`, after the sixth sealed list was opened.
"""

from __future__ import annotations

import pytest
from kikichoko.forms.free_words import read_words


def said(text: str) -> dict[str, str]:
    return {match.key: match.polarity for match in read_words(text).matches}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Surprise at liking a fault is said of the fault; praise of the rest is not.
        ("cheesy rind, but somehow delicious", {"cheese": "praised"}),
        ("blue cheese, but otherwise delicious", {"cheese": "fault"}),
        ("campfire smoke, I know it's a fault but I'm into it", {"smoky": "praised"}),
        ("campfire smoke", {"smoky": "fault"}),
        ("normally I'd mark down the glue, but here it fits", {"solvent": "praised"}),
        ("normally I'd mark down the glue, and here too", {"solvent": "fault"}),
        ("there is glue, but I cannot help liking it", {"solvent": "praised"}),
        ("there is glue, but I cannot like it", {"solvent": "fault"}),
        # Better and worse than another cup.
        ("better nose than A2, worse palate", {"nose": "praised"}),
        ("worse nose than A2", {"nose": "too_little"}),
        ("less fruity than I'd expected", {"fruity": "too_little"}),
        ("less fruity than A", {"fruity": "noted"}),
        ("not as dry as the label says", {"dry": "too_little"}),
        ("not as dry as A", {"dry": "noted"}),
        # A little too low, a little too much.
        ("acidity a little low", {"sour": "too_little"}),
        ("acidity low", {"sour": "noted"}),
        ("alcohol a bit forward", {"alcohol_burn": "too_much"}),
        ("the aroma dominates", {"aroma": "too_much"}),
        ("the aroma dominates, fine by me", {"aroma": "praised"}),
        ("aroma is to weak", {"aroma": "too_little"}),
        ("bit to sweet", {"sweet": "too_much"}),
        ("sweet to the end", {"sweet": "noted"}),
        ("over-oaked", {"wood": "too_much"}),
        ("over-ripe pineapple", {"pineapple": "noted"}),
        ("can't smell a thing", {"aroma": "too_little"}),
        (
            "nose shut, in the mouth melon",
            {"nose": "too_little", "fukumi": "noted", "melon": "noted"},
        ),
        # A verdict alone in its clause, against the same word of something else.
        ("Off.", {"off": "fault"}),
        ("off to lunch", {}),
        ("closed when cold", {"aroma": "too_little"}),
        ("the shop closed", {}),
        ("not aromatic at all but that's the point", {"aroma": "absent"}),
        ("not aromatic at all but I hoped so", {"aroma": "too_little"}),
        # Where something stands.
        ("glue on nose", {"solvent": "fault", "nose": "noted"}),
        ("yoghurty nose", {"yoghurt": "noted", "nose": "noted"}),
        ("bitter finish", {"bitter_end": "noted", "after": "noted"}),
        ("no bitter finish", {"bitter_end": "absent"}),
        ("odd aftertaste", {"after": "fault"}),
        ("odd label. Faint aftertaste", {"after": "noted"}),
        ("nose doesn't match the palate", {"fades": "too_little"}),
        # A cloud that was not meant, a question that says what is there.
        ("cloudy, not meant to be", {"hazy": "fault"}),
        ("cloudy, meant to be", {"cloudy": "noted"}),
        ("is the gas intended?", {"prickle": "noted"}),
        ("is there gas?", {}),
        ("is this musty?", {"musty": "fault"}),
        ("does this have a musty cap?", {}),
        # Somebody else's word.
        ("teacher says 4VG?", {}),
        ("4VG?", {"phenolic": "fault"}),
        ("my neighbour says cheese, I don't get it", {"cheese": "absent"}),
        ("label says dry; tastes sweet to me", {"dry": "absent", "sweet": "noted"}),
        ("label says dry; tastes bitter to me", {"dry": "noted", "bitter": "noted"}),
        ("TCA? must have been the glass", {"musty": "absent"}),
        ("TCA? must be in the sake", {"musty": "fault"}),
        # About no sake.
        ("drain", {}),
        ("smells of drains", {"sulphur": "fault"}),
        ("please dim the lights, too bright", {}),
        ("the burgers here are greasy, smoky and far too salty", {}),
        ("tastes of burgers, greasy", {"oil": "fault"}),
        ("those pickles are far too sour", {}),
        ("pickles, far too sour", {"stale": "fault", "sour": "too_much"}),
        ("this panel is nuts", {}),
        # Warmth of serving, against warmth of alcohol.
        ("opens with warmth to melon", {"melon": "noted"}),
        ("ends with warmth", {"alcohol_burn": "noted"}),
        # A likeness that holds a fault's word.
        ("caramel popcorn", {"caramel": "noted"}),
        ("popcorn", {"buttery": "fault"}),
        ("smells like a Christmas candle", {}),
        ("candle wax", {"fatty": "fault"}),
        ("leather, tobacco, walnut", {"aged": "noted", "nut": "noted"}),
        ("tobacco", {"smoky": "fault"}),
        ("coating, almost oily", {"creamy": "noted"}),
        ("almost oily", {"oil": "fault"}),
        ("sweet potato", {}),
        ("sweet as can be", {"sweet": "noted"}),
        # What only describes the thing that the drink is likened to.
        ("reminds me of dry cider", {}),
        ("dry, reminds me of cider", {"dry": "noted"}),
        ("like a salty breeze", {}),
        ("salty like a breeze", {"salty": "noted"}),
        ("quite dry for a sake labelled sweet", {"dry": "noted"}),
        ("quite dry and labelled right", {"dry": "noted"}),
        # What a thing does is no noun that it describes.
        ("the bitterness stays", {"bitter": "noted"}),
        ("the wood came through", {"wood": "noted"}),
        ("the bitter notebook", {}),
        (
            "sour like lemonade but sweet too",
            {"sour": "noted", "citrus": "noted", "sweet": "noted"},
        ),
        ("sweet, too sweet", {"sweet": "too_much"}),
        ("could be cleaner", {"clean": "too_little"}),
        ("cleaner", {"clean": "praised"}),
        ("esters through the roof", {"ester": "too_much"}),
        ("esters on the roof", {}),
        ("textbook Kumamoto yeast", {}),
        ("yeast", {"bread": "noted"}),
        ("red apple not green apple", {"apple": "noted"}),
        ("red apple. No green apple", {"apple": "absent"}),
        ("the last bottle I had was mouldy, this one is fine", {"musty": "absent"}),
        ("the last one was mouldy, this one is too", {"musty": "fault"}),
        ("after the cheese everything tastes sour, no comment", {}),
        ("tired", {"stale": "fault"}),
        ("I am tired", {}),
        # Not too much is no complaint, and what others may find is no finding.
        ("not too much bitterness", {"bitter": "noted"}),
        ("too much bitterness", {"bitter": "too_much"}),
        ("not too fruity", {"fruity": "noted"}),
        ("not very fruity", {"fruity": "too_little"}),
        ("could not be more fruity", {"fruity": "noted"}),
        ("could be more fruity", {"fruity": "too_little"}),
        ("would call it bitter", {"bitter": "noted"}),
        ("would love it sweeter", {"sweet": "too_little"}),
        ("some may find it too sweet", {}),
        ("I find it too sweet", {"sweet": "too_much"}),
        # A fault that somebody says is to the good, against one that makes it worse.
        ("the smoke makes it", {"smoky": "praised"}),
        ("the smoke makes it undrinkable", {"smoky": "fault"}),
        ("what I like is the cheese", {"cheese": "praised"}),
        ("what I dislike is the cheese", {"cheese": "fault"}),
        ("a fan of the glue", {"solvent": "praised"}),
        ("not a fan of the glue", {"solvent": "fault"}),
        ("hineka, far from unpleasant", {"stale": "praised"}),
        ("hineka, far from pleasant", {"stale": "fault"}),
        # What went soon was there; what is gone is not.
        ("a whiff of glue, quickly gone", {"solvent": "fault"}),
        ("a whiff of glue, gone by now", {"solvent": "absent"}),
        ("matchstick, then it cleared", {"sulphur": "fault"}),
        # A fault that is named as the exception, and a wish.
        ("apart from the glue, good", {"solvent": "fault"}),
        ("the glue is good", {"solvent": "praised"}),
        ("were it not for the glue", {"solvent": "fault"}),
        ("it is not the glue", {"solvent": "absent"}),
        ("hope it's not mould", {}),
        ("it's not mould", {"musty": "absent"}),
        # What somebody likes at all, a room, a water jug: no finding of this cup.
        ("I usually like dry sake", {}),
        ("dry, I like it", {"dry": "praised"}),
        ("people who like sweet sake will love this", {}),
        ("if you like banana you will like this", {}),
        ("I like the banana", {"banana": "praised"}),
        ("I prefer fruity sakes", {}),
        ("the water here is metallic", {}),
        ("this sake is metallic", {"metallic": "fault"}),
        ("the flight was long", {}),
        ("the finish was long", {"long_finish": "noted"}),
        ("can't see the colour", {}),
        ("light is too dim to see", {}),
        ("a tad sour, otherwise lovely", {"sour": "noted"}),
        ("a tad sour, lovely", {"sour": "praised"}),
        # The end that a fault is named of; "w/o" is one word.
        ("metallic twang at the end", {"metallic": "fault", "after": "noted"}),
        ("metallic, at the end of the day", {"metallic": "fault"}),
        ("rich w/o being cloying", {"rich": "noted", "cloying": "absent"}),
        ("rich/cloying", {"rich": "noted", "cloying": "fault"}),
        ("D/A none", {"buttery": "absent"}),
        ("no umami to speak of", {"umami": "too_little"}),
        ("no umami", {"umami": "absent"}),
    ],
)
def test_a_turn_is_read_on_both_sides(text, expected):
    assert said(text) == expected


def test_a_number_with_a_comma_behind_it_ends_its_clause():
    assert said("apple in 12, melon in 13, no pear") == {
        "apple": "noted",
        "melon": "noted",
        "pear": "absent",
    }


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Ordinary words and names are no misspelt terms; a misspelt term is read on.
        ("British brand, consistent minister", {}),
        ("polished to forty per cent", {}),
        ("my brother will apply", {}),
        ("Kyoto and Milan, said Alice", {}),
        ("some EtOAc has crept in", {"solvent": "fault"}),
        ("leans to banana", {"banana": "noted"}),
        ("lean", {"thin": "too_little"}),
        ("mellon and bannana", {"melon": "noted", "banana": "noted"}),
        # Clean of the finish, and of the whole.
        ("the finish is quick and clean", {"clean_cut": "praised"}),
        ("a clean, dry finish", {"clean_cut": "praised", "dry": "noted"}),
        ("clean and fruity", {"clean": "praised", "fruity": "noted"}),
        ("crisp", {"clean_cut": "praised"}),
        # Work with the word, and the word of the cup.
        ("ethyl acetate on the GC is due on Friday", {}),
        ("the press cloths go to the wash tonight", {}),
        ("tomorrow's class: telling isoamyl acetate from ethyl acetate", {}),
        ("isoamyl acetate, and ethyl acetate", {"banana": "noted", "solvent": "fault"}),
        ("this year's rice is hard", {}),
        ("this year's is hard, rice on the nose", {"grain": "noted", "nose": "noted"}),
        ("pls empty the bucket", {}),
        ("glass not clean", {}),
        ("not clean", {"clean": "too_little"}),
        # Denied by everybody, by one, and after all not.
        ("diacetyl: nobody on the panel could find it", {"buttery": "absent"}),
        ("diacetyl: everybody on the panel could find it", {"buttery": "fault"}),
        ("fusel alcohols? none that I can smell", {"fusel": "absent"}),
        ("less glue than last time, but I can still find it", {"solvent": "fault"}),
        ("less glue than last time", {"solvent": "fault"}),
        ("no rice bran this time", {"bran": "absent"}),
        ("rice bran this time", {"bran": "fault"}),
        # What follows a denial or a change is not denied.
        ("not sweet enough to carry the acidity", {"sweet": "too_little", "sour": "noted"}),
        ("the gas has gone and it's round", {"prickle": "absent", "round": "noted"}),
        # A fault liked where it stands.
        ("the trace of ethyl acetate lifts the whole thing", {"solvent": "praised"}),
        ("the trace of ethyl acetate ruins the whole thing", {"solvent": "fault"}),
        ("the cheesy note is delicious with this style", {"cheese": "praised"}),
        ("the cheesy note is disgusting with this style", {"cheese": "fault"}),
        # The place is kept where it is named.
        ("some astringency in the aftertaste", {"astringent": "noted", "after": "noted"}),
        ("good kire and a pleasing aftertaste", {"clean_cut": "praised", "after": "praised"}),
        ("sweet, with some acidity", {"sweet": "noted", "sour": "noted"}),
    ],
)
def test_turns_of_the_seventh_and_eighth_lists(text: str, expected: dict[str, str]):
    """Classes that those lists left (opened, then worked with); the phrases are our own."""
    assert said(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # Liked: the fault, not the word that stands between; and "tastes like it" is no liking.
        ("the hineka is faint and frankly I enjoy it", {"stale": "praised"}),
        ("the hineka is faint and frankly I mind it", {"stale": "fault"}),
        (
            "rough, as new sake should be, I quite enjoy that",
            {"rough": "praised", "young": "praised"},
        ),
        ("rough, as new sake should not be", {"rough": "fault", "young": "noted"}),
        ("reductive, I'm a fan", {"sulphur": "praised"}),
        ("reductive, I'm no fan", {"sulphur": "fault"}),
        ("iron in the water? tastes like it", {"metallic": "fault"}),
        ("iron in the water? I like it", {"metallic": "praised"}),
        # Words of the trade are no misspelt terms.
        ("muroka, kimoto", {}),
        ("purely rice", {"grain": "noted"}),
        ("pure, rice", {"clean": "praised", "grain": "noted"}),
        # What is said of another bottle, a place or an addition.
        ("rounder than the clear one", {"round": "noted"}),
        ("rounder and clear", {"round": "noted", "clear": "noted"}),
        ("lost its gas and gained honey", {"prickle": "absent", "honey": "noted"}),
        ("after a year in the cellar", {}),
        ("smells of the cellar", {"musty": "fault"}),
        ("alcohol added too early", {}),
        ("alcohol, too early", {"alcohol_burn": "noted"}),
        ("sweetness of rice, not of sugar", {"sweet": "noted", "grain": "noted"}),
        ("it's not the acid that bothers me", {"sour": "noted"}),
        ("it's not the acid", {"sour": "absent"}),
        ("banana, but only in the mouth", {"banana": "noted", "fukumi": "noted"}),
        ("bitter in the mouth", {"bitter": "noted"}),
        ("gone cloudy", {"hazy": "fault"}),
        ("cloudy", {"cloudy": "noted"}),
    ],
)
def test_turns_of_the_ninth_list(text: str, expected: dict[str, str]):
    """Classes that the ninth list left, after it was measured; the phrases are our own."""
    assert said(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # What the rest of the text says decides what a word means.
        ("too many lees in this pour", {"cloudy": "too_much"}),
        ("smell of lees", {"lees": "noted"}),
        ("deep gold and bright", {"amber": "noted", "clear": "noted"}),
        ("bright and fruity", {"bright": "noted", "fruity": "noted"}),
        ("mellow after pasteurisation", {"round": "noted"}),
        ("pasteurisation smell", {"heat_smell": "fault"}),
        ("what yeast is this", {}),
        ("yeast on the nose", {"bread": "noted", "nose": "noted"}),
        ("check the pressing date", {}),
        ("dates and figs", {"dried_fruit": "noted"}),
        ("tires you after one sip", {}),
        ("car tires", {"rubber": "fault"}),
        ("wrong cup", {}),
        ("something wrong", {"off": "fault"}),
        ("heated too long", {}),
        ("too long", {"long_finish": "too_much"}),
        ("rounder than the young one", {"round": "noted"}),
        ("round and young", {"round": "noted", "young": "noted"}),
        # Beside another these only say how it is.
        ("white peach, juicy", {"peach": "noted"}),
        ("juicy", {"bright": "noted"}),
        ("the astringency gives structure", {"astringent": "noted"}),
        ("good structure", {"full": "praised"}),
        ("flabby, no spine", {"slack": "fault"}),
        ("no spine", {"thin": "too_little"}),
        ("butterscotch, diacetyl for sure", {"buttery": "fault"}),
        ("butterscotch", {"caramel": "noted"}),
        # A smell in the mouth, and a taste.
        ("melon in the mouth", {"melon": "noted", "fukumi": "noted"}),
        ("sweet in the mouth", {"sweet": "noted"}),
        ("no fatty acid despite high caproate", {"fatty": "absent", "ethyl_caproate": "noted"}),
        ("no fatty acid or caproate", {"fatty": "absent", "ethyl_caproate": "absent"}),
        ("sulphur free for once", {"sulphur": "absent"}),
        ("sulphur, for once", {"sulphur": "fault"}),
        ("little zatsumi", {"cluttered": "absent"}),
        ("a little zatsumi", {"cluttered": "fault"}),
        ("does anyone get sulphur?", {}),
        ("does anyone else get sulphur?", {"sulphur": "fault"}),
        ("ethyl acetate, but it lifts the fruit", {"solvent": "praised", "fruity": "noted"}),
        ("ethyl acetate, and it hides the fruit", {"solvent": "fault", "fruity": "noted"}),
    ],
)
def test_what_the_rest_of_a_text_decides(text: str, expected: dict[str, str]):
    """Classes of the tenth list and of two more by outsiders, after each was measured."""
    assert said(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # The trade's words in Roman letters.
        ("hanayaka", {"aroma": "noted"}),
        ("usui", {"thin": "too_little"}),
        ("dareru", {"slack": "fault"}),
        ("kabishu", {"musty": "fault"}),
        ("pichi-pichi", {"prickle": "noted"}),
        ("how dare they", {}),
        # A neighbour in the text decides.
        ("brioche and lees", {"bread": "noted", "lees": "noted"}),
        ("could be brighter to the eye", {"clear": "too_little"}),
        ("could be brighter", {"bright": "too_little"}),
        ("caramel too thick", {"caramel": "too_much"}),
        ("too thick", {"creamy": "too_much"}),
        ("wood far too heavy", {"wood": "too_much"}),
        ("far too heavy", {"heavy": "too_much"}),
        ("flabby, no grip", {"slack": "fault"}),
        ("no grip", {"astringent": "absent"}),
        ("apple and banana in equal parts", {"apple": "noted", "banana": "noted"}),
        ("solvent, a touch", {"solvent": "fault"}),
        ("silky touch", {"smooth": "praised", "touch": "noted"}),
        ("aldehyde, an off-note", {"green_wood": "fault"}),
        ("an off-note", {"off": "fault"}),
        ("perfumey, flowery", {"flower": "noted"}),
        ("perfumey", {"aroma": "noted"}),
        ("number seven yeast", {}),
        ("old frying fat", {"oil": "fault"}),
        ("shows its age", {"aged": "noted"}),
        ("freshly bottled", {}),
        ("fresh, from the bottle", {"bright": "noted"}),
        ("umami for days", {"umami": "praised"}),
        ("the cloudiness suits it", {"cloudy": "praised"}),
        ("hine-ka showing through the fruit", {"stale": "fault", "fruity": "noted"}),
        ("melon on the retro", {"melon": "noted", "fukumi": "noted"}),
        ("retro label", {}),
        ("kabi-shu nashi", {"musty": "absent"}),
        ("apple, nashi", {"apple": "noted", "pear": "noted"}),
        ("anyone getting diacetyl?", {}),
        ("diacetyl, anyone?", {"buttery": "fault"}),
        ("straw tint", {"amber": "noted"}),
        ("straw on the nose", {"straw": "noted", "nose": "noted"}),
        ("finish outstays its welcome", {"long_finish": "too_much"}),
        ("outstays its welcome", {"draggy": "too_little"}),
        ("browned, wrong colour", {"colour": "fault"}),
        ("pineapple candy", {"pineapple": "noted"}),
        ("sweeter than I'd want", {"sweet": "too_much"}),
        ("sweeter than the other", {"sweet": "noted"}),
        ("nose jumps out, lovely", {"nose": "praised"}),
        ("delicate, floral", {"flower": "noted"}),
        ("delicate", {"light": "noted"}),
        ("nasty aftertaste", {"after": "fault"}),
        ("後味が悪い", {"after": "fault"}),
        ("キレが悪い", {"draggy": "too_little"}),
        ("華やかな香り", {"aroma": "praised"}),
        ("メロンのような華やかな香り", {"melon": "praised"}),
        ("濃すぎる", {"rich": "too_much"}),
        # A denial that is none, and one that is.
        ("gone a bit malt vinegar", {"vinegar": "fault"}),
        ("vinegar gone", {"vinegar": "absent"}),
        ("lost its freshness", {"bright": "too_little"}),
        ("not fresh", {"bright": "absent"}),
        ("glue blew off after ten minutes", {"solvent": "fault"}),
        ("finish isn't clean enough", {"clean_cut": "too_little"}),
        ("not clean enough", {"clean": "too_little"}),
        ("aftertaste drags on too long", {"long_finish": "too_much"}),
        ("drags on", {"draggy": "too_little"}),
        ("lychee, straight from the tin", {"lychee": "noted"}),
        ("old tin", {"metallic": "fault"}),
        ("volatile acid, vinegary", {"vinegar": "fault"}),
        ("clove, certainly phenolic", {"phenolic": "fault"}),
        ("clove", {"clove": "noted"}),
        ("the fizz has fallen flat", {"prickle": "noted"}),
        ("fallen flat", {"slack": "fault"}),
        ("a squeeze of lemon", {"citrus": "noted"}),
        ("hint of green in the colour", {"colour": "noted"}),
        ("VDK clean", {"buttery": "absent"}),
        ("VDK", {"buttery": "fault"}),
        ("bloody delicious", {}),
        ("bloody, like a coin", {"metallic": "fault"}),
        ("not round yet", {"round": "too_little"}),
        ("not round", {"round": "absent"}),
        ("too soft, no structure", {"soft": "too_much"}),
        ("no caproic stink", {"fatty": "absent"}),
        ("blanched almonds", {"nut": "noted"}),
        ("cedar swamps the lot", {"wood": "too_much"}),
        ("should check for sulphur", {}),
        ("hands numb from rice washing", {}),
        ("mouldy hessian", {"musty": "fault"}),
        ("hessian", {"press_cloth": "fault"}),
        ("not much zatsumi", {"cluttered": "absent"}),
        ("much zatsumi", {"cluttered": "fault"}),
        ("not much nose", {"nose": "too_little"}),
        ("sulphur's cleared since racking", {"sulphur": "absent"}),
        ("sulphur since racking", {"sulphur": "fault"}),
        ("diacetyl test came up clean", {"buttery": "absent"}),
        ("saltiness out of proportion", {"salty": "too_much"}),
        ("out of proportion", {"unbalanced": "fault"}),
        ("too few esters", {"ester": "too_little"}),
        ("too many esters", {"ester": "too_much"}),
        ("hope it turns out fruity", {}),
        ("dry-erase marker", {"fusel": "fault"}),
        ("melon all day long", {"melon": "noted"}),
        ("beetroot, muddy", {"earthy": "fault"}),
        ("sulphur's cleared", {"sulphur": "absent"}),
        ("sulphur's clear", {"sulphur": "fault"}),
        ("finish cuts off too soon", {"short_finish": "too_little"}),
        ("pure and clear", {"clean": "praised"}),
        ("let's check the aldehyde later", {}),
        ("weighty", {"heavy": "noted"}),
        ("さらさらとした", {"smooth": "praised"}),
        ("ザラザラ", {"grainy": "fault"}),
    ],
)
def test_phrases_of_shop_talk(text: str, expected: dict[str, str]):
    """Classes of the eleventh list and of two of shop talk, after each was measured."""
    assert said(text) == expected
