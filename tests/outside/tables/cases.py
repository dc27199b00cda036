"""Tables as a brewer, a teacher and an analyst have them, with what must become of each.

Written on 2026-11-26 before the code of the table readers was read, from the pages that users
see. A case says which command meets the table, the table itself, and what is demanded:

- ``same``: the command must say of it what it says of the clean table of that name;
- ``refused``: exit code not 0, and the message holds one of the words of each list;
- ``either``: one of the two;
- ``told``: read, and besides the message holds one of the words of each list.

``{c1}`` and ``{c2}`` in a table are codes of the session that the case is read into.
"""

from __future__ import annotations

from dataclasses import dataclass, field

BOTTLES = """\
bottle,tank,fraction,pasteurised,abv,meter_value,acidity,amino_acidity,polishing
free-run,7,free-run,0,17.2,-24,1.8,1.2,60
clear,7,clear,0,17,0,1.7,1.1,60
cloudy,7,cloudy,0,16.8,3.5,1.6,1,60
"""
JAPANESE_BOTTLES = """\
bottle,tank,fraction,pasteurised,abv,meter_value,acidity,amino_acidity,polishing
荒走り,7,荒走り,0,17.2,-24,1.8,1.2,60
中取り,7,中取り,0,17,0,1.7,1.1,60
責め,7,責め,0,16.8,3.5,1.6,1,60
"""
ASSESSORS = """\
assessor,role,style,language,tastes
A1,maker,likes,en,yes
A2,expert,dislikes,ja,yes
A3,student,neutral,en,no
"""
SCORES = """\
assessor,sample,sweetness,acidity
A1,free-run,7.5,3
A1,clear,5.5,4
A1,cloudy,4,5.5
A2,free-run,7,3.5
A2,clear,6,4
A2,cloudy,3.5,5
A3,free-run,8,2
A3,clear,5,3.5
A3,cloudy,4.5,6
"""
ANSWERS = """\
assessor,code,sweetness,acidity
A2,{c1},6.5,3
A2,{c2},4.5,7
"""
CLEAN = {
    "bottles": BOTTLES,
    "japanese": JAPANESE_BOTTLES,
    "assessors": ASSESSORS,
    "scores": SCORES,
    "answers": ANSWERS,
}


@dataclass(frozen=True, kw_only=True)
class Case:
    """One table: who has it, which command meets it, and what must become of it."""

    name: str
    who: str
    what: str
    command: str
    table: str = ""
    suffix: str = ".csv"
    encoding: str = "utf-8"
    mark: bytes = b""
    ends: str = "\n"
    raw: bytes = b""
    cells: list[list[object]] = field(default_factory=list)
    formats: dict[str, str] = field(default_factory=dict)
    extra_sheet: bool = False
    same: str = ""
    refused: tuple[tuple[str, ...], ...] = ()
    told: tuple[tuple[str, ...], ...] = ()


def semicolons(table: str) -> str:
    """The table as a spreadsheet with decimal commas saves it."""
    return table.replace(",", ";").replace(".", ",")


def tabs(table: str) -> str:
    """The table as it is copied out of a spreadsheet."""
    return table.replace(",", "\t")


def grid(table: str) -> list[list[object]]:
    """The table as typed cells: numbers where a spreadsheet would see numbers."""

    def typed(text: str) -> object:
        try:
            return int(text) if text.lstrip("-").isdigit() else float(text)
        except ValueError:
            return text

    return [[typed(cell) for cell in line.split(",")] for line in table.splitlines()]


def with_heading(table: str, heading: str) -> str:
    """The table below another heading."""
    return heading + "\n" + table.split("\n", 1)[1]


J_HEAD = "品名,タンク,区分,火入れ,アルコール分,日本酒度,酸度,アミノ酸度,精米歩合"

BREWER = [
    Case(name="T01", who="brewer", what="UTF-8 with a mark", command="chemistry", table=BOTTLES,
         encoding="utf-8-sig", same="bottles"),
    Case(name="T02", who="brewer", what="semicolons and decimal commas", command="chemistry",
         table=semicolons(BOTTLES), same="bottles"),
    Case(name="T03", who="brewer", what="semicolons, decimal commas, a mark", command="link",
         table=semicolons(BOTTLES), encoding="utf-8-sig", same="bottles"),
    Case(name="T04", who="brewer", what="Japanese spreadsheet's encoding", command="chemistry",
         table=JAPANESE_BOTTLES, encoding="cp932", same="japanese"),
    Case(name="T05", who="brewer", what="EUC-JP", command="chemistry", table=JAPANESE_BOTTLES,
         encoding="euc_jp", same="japanese"),
    Case(name="T06", who="brewer", what="ISO-2022-JP", command="chemistry",
         table=JAPANESE_BOTTLES, encoding="iso2022_jp", same="japanese"),
    Case(name="T07", who="brewer", what="'Unicode text' of a spreadsheet", command="chemistry",
         table=tabs(JAPANESE_BOTTLES), encoding="utf-16", suffix=".txt", same="japanese"),
    Case(name="T08", who="brewer", what="UTF-16 little end first, no mark", command="chemistry",
         table=tabs(JAPANESE_BOTTLES), encoding="utf-16-le", same="japanese"),
    Case(name="T09", who="brewer", what="UTF-16 big end first, no mark", command="link",
         table=BOTTLES, encoding="utf-16-be", same="bottles"),
    Case(name="T10", who="brewer", what="sep=; on top", command="chemistry",
         table="sep=;\n" + semicolons(BOTTLES), same="bottles"),
    Case(name="T11", who="brewer", what="sep=, on top", command="plan",
         table="sep=,\n" + BOTTLES, same="bottles"),
    Case(name="T12", who="brewer", what="a title above the heading", command="chemistry",
         table="Tank 7 spring 2026,,,,,,,,\n,,,,,,,,\n" + BOTTLES, same="bottles"),
    Case(name="T13", who="brewer", what="a title above the heading, planned", command="plan",
         table="Tank 7 spring 2026\n\n" + BOTTLES, same="bottles"),
    Case(name="T14", who="brewer", what="Japanese headings", command="chemistry",
         table=with_heading(JAPANESE_BOTTLES, J_HEAD), same="japanese"),
    Case(name="T15", who="brewer", what="Japanese headings, planned", command="plan",
         table=with_heading(JAPANESE_BOTTLES, J_HEAD), encoding="cp932", same="japanese"),
    Case(name="T16", who="brewer", what="Japanese headings, linked", command="link",
         table=with_heading(BOTTLES, J_HEAD), same="bottles"),
    Case(name="T17", who="brewer", what="plus-minus 0", command="chemistry",
         table=BOTTLES.replace(",0,1.7", ",±0,1.7"), same="bottles"),
    Case(name="T18", who="brewer", what="full-width signs and figures", command="plan",
         table=BOTTLES.replace(",0,1.7", ",±０,１．７").replace(",3.5", ",＋３．５"),
         same="bottles"),
    Case(name="T19", who="brewer", what="60%", command="plan",
         table=BOTTLES.replace(",60\n", ",60%\n"), same="bottles"),
    Case(name="T20", who="brewer", what="percent signs, also full-width", command="chemistry",
         table=BOTTLES.replace(",60\n", ",60％\n").replace("17.2", "17.2 %"), same="bottles"),
    Case(name="T21", who="brewer", what="minus signs of print", command="chemistry",
         table=BOTTLES.replace("-24", "−24"), same="bottles"),
    Case(name="T22", who="brewer", what="a black triangle for minus", command="chemistry",
         table=BOTTLES.replace("-24", "▲24"), same="bottles"),
    Case(name="T23", who="brewer", what="degrees of alcohol", command="chemistry",
         table=BOTTLES.replace("17.2", "17.2度").replace(",17,", ",17度,"), same="bottles"),
    Case(name="T24", who="brewer", what="the range of a label for the alcohol",
         command="chemistry", table=BOTTLES.replace("17.2", "17-18"),
         refused=(("row 2", "line 2"), ("abv",), ("number",))),
    Case(name="T25", who="brewer", what="about 17", command="plan",
         table=BOTTLES.replace("17.2", "about 17"),
         refused=(("row 2", "line 2"), ("abv",), ("number",))),
    Case(name="T26", who="brewer", what="headings with units", command="chemistry",
         table=with_heading(BOTTLES, "Bottle,Tank,Fraction,Pasteurised,Alcohol (% vol),"
                            "Meter value (15 °C),Acidity (mL),Amino acidity (mL),"
                            "Polishing ratio (%)"), same="bottles"),
    Case(name="T27", who="brewer", what="romaji and short names", command="chemistry",
         table=with_heading(BOTTLES, "name,tank,fraction,hiire,alc,nihonshudo,sando,"
                            "aminosando,seimaibuai"), same="bottles"),
    Case(name="T28", who="brewer", what="half-width kana, blanks in headings",
         command="chemistry",
         table=with_heading(JAPANESE_BOTTLES, J_HEAD.replace("アルコール分", "ｱﾙｺｰﾙ分")
                            .replace("酸度,ア", "酸　度,ア")), same="japanese"),
    Case(name="T29", who="brewer", what="acidity misspelled", command="chemistry",
         table=BOTTLES.replace("meter_value", "meter_valu"),
         told=(("meter_valu",), ("meter_value",))),
    Case(name="T30", who="brewer", what="acidity misspelled, planned", command="plan",
         table=BOTTLES.replace(",acidity,", ",acidty,"), told=(("acidty",), ("acidity",))),
    Case(name="T31", who="brewer", what="not measured: a dash, n/a, 未測定", command="chemistry",
         table=BOTTLES.replace(",1.2,60", ",,60").replace(",1.1,60", ",,60")
         .replace(",1,60", ",,60").replace(",,60", ",-,60", 1).replace(",,60", ",n/a,60", 1)
         .replace(",,60", ",未測定,60", 1), same="no amino"),
    Case(name="T32", who="brewer", what="acidity with its unit", command="chemistry",
         table=BOTTLES.replace("1.8,1.2", "1.8 mL,1.2"), same="bottles",
         refused=(("row 2", "line 2"), ("acidity",), ("number",))),
    Case(name="T33", who="brewer", what="an ODS workbook", command="chemistry", suffix=".ods",
         cells=grid(BOTTLES), same="bottles"),
    Case(name="T34", who="brewer", what="an ODS workbook, planned", command="plan",
         suffix=".ods", cells=grid(BOTTLES), same="bottles"),
    Case(name="T35", who="brewer", what="polishing as 60 % in a cell that holds 0.6",
         command="chemistry", suffix=".xlsx",
         cells=[[0.6 if cell == 60 else cell for cell in row] for row in grid(BOTTLES)],
         formats={"I": "0%"}, same="bottles",
         refused=(("I2", "row 2"), ("polishing",), ("%", "percent"))),
    Case(name="T36", who="brewer", what="a title and a blank row in a workbook",
         command="plan", suffix=".xlsx",
         cells=[["Tank 7, spring 2026"], [], *grid(BOTTLES)], same="bottles"),
    Case(name="T37", who="brewer", what="an old workbook", command="chemistry", suffix=".xls",
         raw=b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
         refused=((".xls",), (".xlsx", "csv"))),
    Case(name="T38", who="brewer", what="two acidities", command="chemistry",
         table=BOTTLES.replace("amino_acidity", "acidity"),
         refused=(("twice", "two columns", "2 columns", "more than once"), ("acidity",))),
    Case(name="T39", who="brewer", what="a decimal comma in a table with commas",
         command="chemistry", table=BOTTLES.replace("17.2", "17,2"),
         refused=(("row 2", "line 2"), ("comma", "column", "cells", "fields"))),
    Case(name="T40", who="brewer", what="CR line ends, capitals, blanks",
         command="chemistry", ends="\r",
         table=with_heading(BOTTLES, "Bottle ,Tank, Fraction,Pasteurised,ABV,Meter_Value,"
                            " ACIDITY ,Amino_Acidity,Polishing"), same="bottles"),
    Case(name="T41", who="brewer", what="empty rows and columns at the ends",
         command="chemistry", table="\n".join(
             [line + ",,," for line in BOTTLES.splitlines()] + [",,,,,,,,,,,"] * 3),
         same="bottles"),
    Case(name="T42", who="brewer", what="units in a row below the heading",
         command="chemistry",
         table=BOTTLES.replace("\n", "\n,,,,%,,mL,mL,%\n", 1), same="bottles",
         refused=(("row 2", "line 2"), ("bottle", "abv"))),
    Case(name="T43", who="brewer", what="formulas that were never computed",
         command="chemistry", suffix=".xlsx",
         cells=[*grid(BOTTLES)[:1],
                ["free-run", 7, "free-run", 0, "=17+0.2", -24, 1.8, 1.2, 60],
                *grid(BOTTLES)[2:]],
         refused=(("E2", "row 2"), ("formula", "result", "computed"))),
    Case(name="T44", who="brewer", what="a number that became a date", command="chemistry",
         suffix=".xlsx",
         cells=[*grid(BOTTLES)[:2],
                ["clear", 7, "clear", 0, 17, 0, "date:2026-07-01", 1.1, 60],
                *grid(BOTTLES)[3:]],
         refused=(("G3", "row 3"), ("date",))),
    Case(name="T45", who="brewer", what="a broken formula", command="chemistry",
         table=BOTTLES.replace("17.2", "#DIV/0!"),
         refused=(("row 2", "line 2"), ("abv",), ("#DIV/0!",))),
    Case(name="T46", who="brewer", what="unknown heading of a bottle list",
         command="plan", table=BOTTLES.replace("bottle,", "item,"),
         refused=(("bottle",), ("item",))),
]

TEACHER = [
    Case(name="T47", who="teacher", what="assessors with a mark and semicolons",
         command="plan assessors", table=semicolons(ASSESSORS), encoding="utf-8-sig",
         same="assessors"),
    Case(name="T48", who="teacher", what="the role professional", command="plan assessors",
         table=ASSESSORS.replace("expert", "professional"), same="assessors"),
    Case(name="T49", who="teacher", what="a role nobody knows", command="plan assessors",
         table=ASSESSORS.replace("expert", "guru"),
         refused=(("row 3", "line 3"), ("role",), ("expert",))),
    Case(name="T50", who="teacher", what="Japanese headings and words",
         command="plan assessors", encoding="cp932",
         table="評価者,役割,好み,言語,試飲\nA1,蔵人,好き,英語,はい\n"
               "A2,専門家,嫌い,日本語,はい\nA3,学生,どちらでもない,英語,いいえ\n",
         same="assessors"),
    Case(name="T51", who="teacher", what="assessors as an ODS workbook",
         command="plan assessors", suffix=".ods", cells=grid(ASSESSORS), same="assessors"),
    Case(name="T52", who="teacher", what="a title above the list", command="plan assessors",
         table="Class of 2026,,,,\n" + ASSESSORS, same="assessors"),
    Case(name="T53", who="teacher", what="capitals in the words", command="plan assessors",
         table=ASSESSORS.replace("maker", "Maker").replace("yes", "Yes").replace(",en", ",EN"),
         same="assessors"),
    Case(name="T54", who="teacher", what="languages by name", command="plan assessors",
         table=ASSESSORS.replace(",en,", ",English,").replace(",ja,", ",Japanese,"),
         same="assessors"),
    Case(name="T55", who="teacher", what="codes typed as 376.0", command="read",
         table=ANSWERS.replace("{c1}", "{c1}.0").replace("{c2}", "{c2}.0"), same="answers"),
    Case(name="T56", who="teacher", what="codes as numbers in a workbook", command="read",
         suffix=".xlsx", cells=grid(ANSWERS), same="answers"),
    Case(name="T57", who="teacher", what="answers as an ODS workbook", command="read",
         suffix=".ods", cells=grid(ANSWERS), same="answers"),
    Case(name="T58", who="teacher", what="answers below a title", command="read",
         table="Typed by the office,,,\n" + ANSWERS, same="answers"),
    Case(name="T59", who="teacher", what="answers with sep=; and decimal commas",
         command="read", table="sep=;\n" + semicolons(ANSWERS), same="answers"),
    Case(name="T60", who="teacher", what="answers in EUC-JP with Japanese headings",
         command="read", encoding="euc_jp",
         table=with_heading(ANSWERS, "評価者,コード,甘味,酸味"), same="answers"),
    Case(name="T61", who="teacher", what="answers in UTF-16 without a mark", command="read",
         table=tabs(ANSWERS), encoding="utf-16-le", same="answers"),
    Case(name="T62", who="teacher", what="answers in ISO-2022-JP", command="read",
         table=with_heading(ANSWERS, "assessor,code,甘味,酸味"), encoding="iso2022_jp",
         same="answers"),
    Case(name="T63", who="teacher", what="code misspelled", command="read",
         table=ANSWERS.replace("code", "cod"), refused=(("cod",), ("code",))),
    Case(name="T64", who="teacher", what="a code nobody dealt", command="read",
         table=ANSWERS.replace("{c1}", "1000"), refused=(("1000",), ("code",))),
]

ANALYST = [
    Case(name="T65", who="analyst", what="scores with semicolons and decimal commas",
         command="anova", table=semicolons(SCORES), same="scores"),
    Case(name="T66", who="analyst", what="scores with a mark", command="anova", table=SCORES,
         encoding="utf-8-sig", same="scores"),
    Case(name="T67", who="analyst", what="scores as ODS", command="anova", suffix=".ods",
         cells=grid(SCORES), same="scores"),
    Case(name="T68", who="analyst", what="scores below a title and a date", command="anova",
         table="Tasting of tank 7\nmeasured 12 March\n\n" + SCORES, same="scores"),
    Case(name="T69", who="analyst", what="scores in UTF-16 without a mark", command="anova",
         table=tabs(SCORES), encoding="utf-16-le", same="scores"),
    Case(name="T70", who="analyst", what="Japanese names of assessor and sample",
         command="anova", table=with_heading(SCORES, "評価者,試料,sweetness,acidity"),
         encoding="cp932", same="scores"),
    Case(name="T71", who="analyst", what="assessor misspelled", command="anova",
         table=SCORES.replace("assessor", "asessor"), refused=(("asessor",), ("assessor",))),
    Case(name="T72", who="analyst", what="a score in words", command="anova",
         table=SCORES.replace("7.5", "seven"),
         refused=(("row 2", "line 2"), ("sweetness",), ("seven",))),
    Case(name="T73", who="analyst", what="scores linked, with semicolons",
         command="link scores", table=semicolons(SCORES), encoding="utf-8-sig", same="scores"),
    Case(name="T74", who="analyst", what="folder over time, semicolons and a mark",
         command="history", table=semicolons(BOTTLES), encoding="utf-8-sig", same="bottles"),
    Case(name="T75", who="analyst", what="folder over time, Japanese headings",
         command="history", table=with_heading(BOTTLES, J_HEAD), encoding="cp932",
         same="bottles"),
    Case(name="T76", who="analyst", what="nothing in it", command="chemistry", table="",
         refused=(("empty", "no rows", "nothing"),)),
    Case(name="T77", who="analyst", what="a heading alone", command="anova",
         table="assessor,sample,sweetness,acidity\n",
         refused=(("empty", "no rows", "no row", "nothing"),)),
    Case(name="T78", who="analyst", what="a workbook called .csv", command="chemistry",
         raw=b"xlsx", cells=grid(BOTTLES), same="bottles",
         refused=(("workbook",), (".xlsx",))),
    Case(name="T79", who="analyst", what="bars part the columns", command="anova",
         table=SCORES.replace(",", "|"), same="scores",
         refused=(("comma", "separat", "part"), ("semicolon",))),
    Case(name="T80", who="analyst", what="each line quoted as one", command="anova",
         table="".join(f'"{line}"\n' for line in SCORES.splitlines()), same="scores",
         refused=(("quot", "comma", "one column", "separat"),)),
    Case(name="T81", who="analyst", what="the second worksheet", command="chemistry",
         suffix=".xlsx", cells=grid(BOTTLES), extra_sheet=True, same="bottles",
         refused=(("worksheet", "sheet"), ("--sheet",))),
    Case(name="T82", who="analyst", what="numbers stored as text with decimal commas",
         command="chemistry", suffix=".xlsx",
         cells=[[str(cell).replace(".", ",") for cell in row] for row in grid(BOTTLES)],
         same="bottles"),
    Case(name="T83", who="analyst", what="a spoiled byte", command="chemistry",
         raw=BOTTLES.replace("free-run,7", "fr\udcffee,7").encode("utf-8", "surrogateescape"),
         same="any", refused=(("encod", "letters", "UTF-8"),)),
    Case(name="T84", who="analyst", what="Western letters", command="chemistry",
         table=BOTTLES.replace("free-run,7", "tête,7"), encoding="latin-1", same="any",
         told=(("tête",),)),
]

CASES = [*BREWER, *TEACHER, *ANALYST]
