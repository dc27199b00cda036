"""Hostile and damaged input files for every reader, written without seeing the code.

    python3 hostile.py FOLDER N SEED [GOOD_FILES...]

``make(folder, n, seed, good=None)`` writes ``n`` bad files and a ``manifest.json``.
Each mutator takes the bytes of a good file and a ``random.Random`` and gives bad bytes:

    bad = MUTATORS["xlsx_row_99999999"].run(good_bytes, random.Random(3))

If a mutator finds nothing to change in the given file it raises ``NotApplicable``;
``make`` then uses the small built-in good file of that kind.

Verdict of a mutator (what a person would want):

    refuse   the file gives no answers; the message says what is wrong and what to do
    accept   nothing a person cares about has changed: the answers must be the good file's
    ask      some or all of it may be read, but the doubtful thing must be shown and
             confirmed; nothing may be taken silently
    either   refuse, or read with exactly the good file's answers; never other answers

True for EVERY file, whatever the verdict (``INVARIANTS``): see the tuple below.
Only the standard library is needed; without Pillow (and no good JPEG given) JPEGs are left out.
"""

from __future__ import annotations

import io
import json
import os
import random
import re
import struct
import sys
import zipfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

INVARIANTS = (
    "no Python traceback, no 'internal error', exit code 0 only if every file was read",
    "the message names the file, the place (sheet/row/column/page/line/key) if there is one, "
    "what was expected and what to do",
    "at most 10 s and 400 MB above the idle memory of the tool for a file below 1 MB",
    "good files in the same command are still read, or the message says that none was read",
    "answers in the database before the command are there unchanged after it",
    "nothing is written outside the session folder; no network; nothing from the file is run",
    "text from the file never reaches the terminal with raw control characters (ESC, CR, BEL, "
    "bidi overrides); in HTML it is escaped; in XLSX it is text, never a formula",
    "a refused file is either kept byte for byte or the message says it was not kept",
    "reading the same bad file twice gives the same message and the same state",
)


class NotApplicable(ValueError):
    """The good file has nothing that this mutator could change."""


@dataclass(frozen=True)
class Mutator:
    """One way to spoil a file."""

    name: str
    kind: str  # xlsx, csv, toml, png, jpeg, pdf or any
    verdict: str  # refuse, accept, ask or either
    must_say: str
    fn: Callable[[bytes, random.Random], bytes]
    suffix: str = ""  # when the bad file must carry another suffix than its kind

    def run(self, good: bytes, rng: random.Random) -> bytes:
        """Give the spoiled bytes."""
        return self.fn(good, rng)


MUTATORS: dict[str, Mutator] = {}
SUFFIX = {"xlsx": ".xlsx", "csv": ".csv", "toml": ".toml", "png": ".png", "jpeg": ".jpg",
          "pdf": ".pdf"}


def mutator(kind: str, verdict: str, must_say: str, suffix: str = ""):
    """Register a mutator under the name of its function."""

    def wrap(fn):
        assert fn.__name__ not in MUTATORS, fn.__name__
        assert verdict in {"refuse", "accept", "ask", "either"}
        MUTATORS[fn.__name__] = Mutator(fn.__name__, kind, verdict, must_say, fn, suffix)
        return fn

    return wrap


# ---------------------------------------------------------------- zip and XML helpers

def parts(good: bytes) -> dict[str, bytes]:
    """Members of an XLSX in their order."""
    try:
        with zipfile.ZipFile(io.BytesIO(good)) as z:
            return {i.filename: z.read(i) for i in z.infolist()}
    except zipfile.BadZipFile as e:
        raise NotApplicable(str(e)) from e


def member(name: str) -> zipfile.ZipInfo:
    """A member with a fixed time, so that the same seed gives the same bytes."""
    info = zipfile.ZipInfo(name, (2026, 11, 26, 12, 0, 0))
    info.compress_type = zipfile.ZIP_DEFLATED
    return info


def pack(members: Mapping[str, bytes]) -> bytes:
    """A zip with these members."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for name, data in members.items():
            z.writestr(member(name), data)
    return out.getvalue()


def first_sheet(p: Mapping[str, bytes]) -> str:
    for name in sorted(p):
        if re.fullmatch(r"xl/worksheets/[^/]+\.xml", name):
            return name
    raise NotApplicable("no worksheet")


def edit_sheet(good: bytes, change: Callable[[bytes], bytes]) -> bytes:
    p = parts(good)
    name = first_sheet(p)
    new = change(p[name])
    if new == p[name]:
        raise NotApplicable("sheet not changed")
    p[name] = new
    return pack(p)


def before_end_of_data(xml: bytes, more: bytes) -> bytes:
    if b"</sheetData>" in xml:
        return xml.replace(b"</sheetData>", more + b"</sheetData>", 1)
    if b"<sheetData/>" in xml:
        return xml.replace(b"<sheetData/>", b"<sheetData>" + more + b"</sheetData>", 1)
    raise NotApplicable("no sheetData")


CELL = re.compile(rb'<c r="([A-Z]+)(\d+)"[^>]*?(?:/>|>.*?</c>)', re.DOTALL)
NUMBER = re.compile(rb'(<c r="[A-Z]+\d+"(?: s="\d+")?(?: t="n")?>)<v>[^<]*</v>')


def number_cell(xml: bytes, rng: random.Random, value: bytes, tag: bytes = b"v") -> bytes:
    """Put another value into one numeric cell (or any cell when there is no numeric one)."""
    found = list(NUMBER.finditer(xml))
    if found:
        m = rng.choice(found)
        return xml[: m.start()] + m[1] + b"<" + tag + b">" + value + b"</" + tag + b">" + xml[
            m.start() + len(m[1]):].split(b"</v>", 1)[1]
    found = list(CELL.finditer(xml))
    if not found:
        raise NotApplicable("no cells")
    m = rng.choice(found)
    cell = b'<c r="%s%s"><%s>%s</%s></c>' % (m[1], m[2], tag, value, tag)
    return xml[: m.start()] + cell + xml[m.end():]


def any_cell(xml: bytes, rng: random.Random, inner: bytes, attrs: bytes = b"") -> bytes:
    found = list(CELL.finditer(xml))
    if not found:
        raise NotApplicable("no cells")
    m = rng.choice(found)
    return xml[: m.start()] + b'<c r="%s%s"%s>%s</c>' % (m[1], m[2], attrs, inner) + xml[m.end():]


def with_strings(good: bytes, xml: bytes) -> bytes:
    p = parts(good)
    if "xl/sharedStrings.xml" not in p:
        raise NotApplicable("no shared strings")
    p["xl/sharedStrings.xml"] = xml
    return pack(p)


SST = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'

# ---------------------------------------------------------------- XLSX: zip level

@mutator("xlsx", "refuse", "The file is cut off (copy or download not finished). Copy it again.")
def xlsx_cut_off(good, rng):
    return good[: rng.randrange(30, max(31, len(good) - 22))]


@mutator("xlsx", "refuse", "The sheet unpacks to far more than a score sheet can hold; not opened.")
def xlsx_zip_bomb(good, rng):
    p = parts(good)
    name = first_sheet(p)
    p[name] = p[name].replace(b"<sheetData", b" " * (200 << 20) + b"<sheetData", 1)
    return pack(p)


@mutator("xlsx", "refuse", "The file lies about its own sizes: damaged or made to harm.")
def xlsx_size_lie(good, rng):
    raw = bytearray(xlsx_zip_bomb(good, rng))
    at = raw.find(b"PK\x01\x02")
    while at >= 0:  # say 1000 bytes in the directory and in each local header
        struct.pack_into("<I", raw, at + 24, 1000)
        local = struct.unpack_from("<I", raw, at + 42)[0]
        struct.pack_into("<I", raw, local + 22, 1000)
        at = raw.find(b"PK\x01\x02", at + 4)
    return bytes(raw)


@mutator("xlsx", "refuse", "Two parts have the same name; it is not clear which sheet counts.")
def xlsx_two_parts_one_name(good, rng):
    p = parts(good)
    name = first_sheet(p)
    other = re.sub(rb"<v>(\d)</v>", lambda m: b"<v>%d</v>" % (9 - int(m[1])), p[name])
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for k, v in p.items():
            z.writestr(member(k), v)
        import warnings
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            z.writestr(member(name), other)
    return out.getvalue()


@mutator("xlsx", "either", "Part names lead outside the file; nothing may be written outside.")
def xlsx_path_traversal(good, rng):
    p = parts(good)
    for bad in ("../../../../tmp/kk_escaped.txt", "/tmp/kk_escaped_abs.txt",
                "..\\..\\kk_escaped_win.txt"):
        p[bad] = b"escaped"
    return pack(p)


@mutator("xlsx", "refuse", "The file is locked with a password. Save it without one.")
def xlsx_encrypted_flag(good, rng):
    raw = bytearray(good)
    for sig, off in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = raw.find(sig)
        while at >= 0:
            raw[at + off] |= 1
            at = raw.find(sig, at + 4)
    return bytes(raw)


@mutator("xlsx", "refuse", "Locked with a password or an old .xls: save as .xlsx without password.")
def xlsx_ole_container(good, rng):
    head = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + b"\x3e\x00\x03\x00\xfe\xff\x09\x00"
    body = head + bytes(480) + "EncryptedPackage".encode("utf-16-le") + rng.randbytes(4096)
    return body


@mutator("xlsx", "either", "20,000 empty parts: not a score sheet.")
def xlsx_many_parts(good, rng):
    p = parts(good)
    for i in range(20000):
        p[f"xl/media/{i}"] = b""
    return pack(p)


@mutator("xlsx", "refuse", "A part of the file does not match its checksum; copy it again.")
def xlsx_bad_crc(good, rng):
    raw = bytearray(good)
    sheet = first_sheet(parts(good)).encode()
    at = raw.find(b"PK\x01\x02")
    while at >= 0:
        size = struct.unpack_from("<H", raw, at + 28)[0]
        if raw[at + 46: at + 46 + size] == sheet:
            local = struct.unpack_from("<I", raw, at + 42)[0]
            raw[at + 16] ^= 0xFF
            raw[local + 14] ^= 0xFF
            return bytes(raw)
        at = raw.find(b"PK\x01\x02", at + 4)
    raise NotApplicable("sheet not found in the directory")


@mutator("xlsx", "either", "The file holds macros. Nothing is run; save as .xlsx.", ".xlsm")
def xlsx_macros(good, rng):
    p = parts(good)
    p["xl/vbaProject.bin"] = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + rng.randbytes(2000)
    p["[Content_Types].xml"] = p["[Content_Types].xml"].replace(
        b"openxmlformats-officedocument.spreadsheetml.sheet.main",
        b"ms-excel.sheet.macroEnabled.main")
    return pack(p)


@mutator("xlsx", "refuse", "This is text (CSV or HTML), not an XLSX; rename it to what it is.")
def xlsx_is_text(good, rng):
    return rng.choice([b"code,score\n123,4\n", b"<html><table><tr><td>123</td></tr></table></html>"])


@mutator("xlsx", "refuse", "A needed part of the workbook is missing (name it).")
def xlsx_part_missing(good, rng):
    p = parts(good)
    goal = rng.choice([n for n in p if re.search(r"workbook\.xml|worksheets/|sharedStr", n)])
    del p[goal]
    return pack(p)


# ---------------------------------------------------------------- XLSX: XML level

@mutator("xlsx", "refuse", "The file defines entities; no spreadsheet does. Not opened.")
def xlsx_entity_bomb(good, rng):
    ents = b'<!ENTITY a0 "kikikikiki">' + b"".join(
        b'<!ENTITY a%d "%s">' % (i, b"&a%d;" % (i - 1) * 10) for i in range(1, 12))
    return with_strings(good, b'<?xml version="1.0"?><!DOCTYPE sst [' + ents + b"]><sst " + SST
                        + b"><si><t>&a11;</t></si></sst>")


@mutator("xlsx", "refuse", "The file defines entities; no spreadsheet does. Not opened.")
def xlsx_entity_quadratic(good, rng):
    return with_strings(good, b'<?xml version="1.0"?><!DOCTYPE sst [<!ENTITY a "' + b"x" * 50000
                        + b'">]><sst ' + SST + b"><si><t>" + b"&a;" * 20000 + b"</t></si></sst>")


@mutator("xlsx", "refuse", "The file asks for another file. Not opened; text of it never shown.")
def xlsx_entity_external(good, rng):
    return with_strings(good, b'<?xml version="1.0"?><!DOCTYPE sst [<!ENTITY a SYSTEM '
                        b'"file:///etc/hostname">]><sst ' + SST + b"><si><t>&a;</t></si></sst>")


@mutator("xlsx", "refuse", "The XML is nested beyond sense.")
def xlsx_xml_deep(good, rng):
    n = 200_000
    return edit_sheet(good, lambda x: before_end_of_data(x, b"<row>" * n + b"</row>" * n))


@mutator("xlsx", "either", "Row 99999999 is outside a worksheet (last row 1048576).")
def xlsx_row_99999999(good, rng):
    row = b'<row r="99999999"><c r="A99999999"><v>1</v></c></row>'
    return edit_sheet(good, lambda x: before_end_of_data(x, row))


@mutator("xlsx", "accept", "(nothing: an empty formatted cell far below is no answer)")
def xlsx_blank_B1048576(good, rng):
    row = b'<row r="1048576"><c r="B1048576"/></row>'
    return edit_sheet(good, lambda x: before_end_of_data(x, row))


@mutator("xlsx", "accept", "(nothing: an empty formatted cell far right is no answer)")
def xlsx_blank_XFD2000(good, rng):
    row = b'<row r="2000"><c r="XFD2000"/></row>'
    return edit_sheet(good, lambda x: before_end_of_data(x, row))


@mutator("xlsx", "accept", "(nothing: the declared extent is only a hint)")
def xlsx_dimension_lie(good, rng):
    ref = rng.choice([b"A1:XFD1048576", b"A1", b"ZZZ9:A0", b""])

    def change(x):
        tag = b'<dimension ref="' + ref + b'"/>'
        new, k = re.subn(rb"<dimension[^>]*/>", tag, x, count=1)
        return new if k else x.replace(b"<sheetData", tag + b"<sheetData", 1)
    return edit_sheet(good, change)


@mutator("xlsx", "refuse", "Cell X holds a number of 5,000 digits; expected a score from A to B.")
def xlsx_long_integer(good, rng):
    return edit_sheet(good, lambda x: number_cell(x, rng, b"7" * rng.choice([5000, 400_000])))


@mutator("xlsx", "ask", "Cell X is not a number (NaN, infinite, 1E400); expected A to B.")
def xlsx_not_finite(good, rng):
    v = rng.choice([b"NaN", b"INF", b"-INF", b"1E400", b"-1E999", b"0x10", b"1_000"])
    return edit_sheet(good, lambda x: number_cell(x, rng, v))


@mutator("xlsx", "refuse", "A cell points to a text that does not exist: damaged file.")
def xlsx_string_index(good, rng):
    v = rng.choice([b"99999", b"-1", b"1.5", b"", b"9" * 30])
    return edit_sheet(good, lambda x: any_cell(x, rng, b"<v>" + v + b"</v>", b' t="s"'))


@mutator("xlsx", "either", "A cell has an unknown style: damaged, or read with the same answers.")
def xlsx_style_index(good, rng):
    def change(x):
        found = list(re.finditer(rb'<c r="[A-Z]+\d+"(?: s="\d+")?', x))
        if not found:
            raise NotApplicable("no cells")
        m = rng.choice(found)
        return x[: m.start()] + m[0].split(b" s=")[0] + b' s="654321"' + x[m.end():]
    return edit_sheet(good, change)


@mutator("xlsx", "refuse", "A cell has an impossible address (A0, ZZZZZ1, empty).")
def xlsx_cell_address(good, rng):
    ref = rng.choice([b"A0", b"ZZZZZ1", b"", b"1A", b"A-3", b"a1;", b"A1:B2"])

    def change(x):
        found = list(re.finditer(rb'<c r="[A-Z]+\d+"', x))
        if not found:
            raise NotApplicable("no cells")
        m = rng.choice(found)
        return x[: m.start()] + b'<c r="' + ref + b'"' + x[m.end():]
    return edit_sheet(good, change)


@mutator("xlsx", "ask", "The same cell stands twice in the file with two values; which counts?")
def xlsx_same_cell_twice(good, rng):
    def change(x):
        found = list(NUMBER.finditer(x))
        if not found:
            raise NotApplicable("no numbers")
        m = rng.choice(found)
        return x[: m.start()] + m[1] + b"<v>1</v></c>" + x[m.start():]
    return edit_sheet(good, change)


@mutator("xlsx", "ask", "Cell X is a formula; type the score as a number.")
def xlsx_formula_answer(good, rng):
    f = rng.choice([b"<f>1+2</f>", b"<f>1+2</f><v>3</v>", b"<f>A1*9</f><v>4</v>",
                    b"<f>HYPERLINK(&quot;http://invalid.invalid&quot;)</f><v>2</v>"])
    return edit_sheet(good, lambda x: any_cell(x, rng, f))


@mutator("xlsx", "ask", "Cell X shows an error (#N/A, #REF!); type the score.")
def xlsx_error_cell(good, rng):
    e = rng.choice([b"#N/A", b"#REF!", b"#DIV/0!"])
    return edit_sheet(good, lambda x: any_cell(x, rng, b"<v>" + e + b"</v>", b' t="e"'))


@mutator("xlsx", "ask", "Cell X holds text '...' where a score from A to B is expected.")
def xlsx_text_score(good, rng):
    t = rng.choice(["3 ", "\uff13", "3,5", "three", "3-4", "3?", "\u4e09", "+3", "'3", "3\u200b",
                    "=cmd|' /C calc'!A0", "+cmd", "@SUM(1+1)*cmd", '=HYPERLINK("http://x","y")',
                    "\x1b[2J3".replace("\x1b", "_x001B_"), "\u202e3"])
    esc = t.replace("&", "&amp;").replace("<", "&lt;").encode()
    return edit_sheet(good, lambda x: any_cell(
        x, rng, b"<is><t>" + esc + b"</t></is>", b' t="inlineStr"'))


@mutator("xlsx", "either", "A row of 1,000,000 cells: not a score sheet.")
def xlsx_million_columns(good, rng):
    row = b'<row r="900">' + b"<c/>" * 1_000_000 + b"</row>"
    return edit_sheet(good, lambda x: before_end_of_data(x, row))


@mutator("xlsx", "refuse", "The text encoding of a part is not what it says; damaged file.")
def xlsx_wrong_encoding(good, rng):
    def change(x):
        body = re.sub(rb"^\s*<\?xml[^>]*\?>", b"", x)
        return rng.choice([
            b'<?xml version="1.0" encoding="UTF-8"?>' + body.replace(b">", b">\xff\xfe", 3),
            b'<?xml version="1.0" encoding="UTF-7"?>' + body,
            b'<?xml version="1.0" encoding="no-such-code"?>' + body,
            b"\x00" * 20 + body])
    return edit_sheet(good, change)


@mutator("xlsx", "either", "The link to the sheet leads outside the workbook.")
def xlsx_relation_outside(good, rng):
    p = parts(good)
    rel = "xl/_rels/workbook.xml.rels"
    if rel not in p:
        raise NotApplicable("no relations")
    t = rng.choice([b"../../../../etc/hostname", b"http://invalid.invalid/s.xml", b"workbook.xml"])
    p[rel] = re.sub(rb'Target="[^"]*worksheets/[^"]*"', b'Target="' + t + b'"', p[rel], count=1)
    return pack(p)


@mutator("xlsx", "either", "2,000 sheets: not a score sheet.")
def xlsx_many_sheets(good, rng):
    p = parts(good)
    body = p[first_sheet(p)]
    wb, ct, rl = "xl/workbook.xml", "[Content_Types].xml", "xl/_rels/workbook.xml.rels"
    n = 2000
    p[wb] = p[wb].replace(b"</sheets>", b"".join(
        b'<sheet name="x%d" sheetId="%d" xmlns:r="http://schemas.openxmlformats.org/officeDocument/'
        b'2006/relationships" r:id="x%d"/>' % (i, 500 + i, i) for i in range(n)) + b"</sheets>")
    p[ct] = p[ct].replace(b"</Types>", b"".join(
        b'<Override PartName="/xl/worksheets/x%d.xml" ContentType="application/vnd.openxmlformats-'
        b'officedocument.spreadsheetml.worksheet+xml"/>' % i for i in range(n)) + b"</Types>")
    p[rl] = p[rl].replace(b"</Relationships>", b"".join(
        b'<Relationship Id="x%d" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
        b'relationships/worksheet" Target="worksheets/x%d.xml"/>' % (i, i) for i in range(n))
        + b"</Relationships>")
    for i in range(n):
        p[f"xl/worksheets/x{i}.xml"] = body
    return pack(p)


@mutator("xlsx", "either", "The document properties are broken; the answers are not.")
def xlsx_bad_properties(good, rng):
    p = parts(good)
    p["docProps/core.xml"] = rng.choice([
        b"<not", b"", b'<?xml version="1.0"?><cp:coreProperties xmlns:cp="http://schemas.openxmlformats'
        b'.org/package/2006/metadata/core-properties" xmlns:dcterms="http://purl.org/dc/terms/">'
        b"<dcterms:created>yesterday evening</dcterms:created></cp:coreProperties>"])
    return pack(p)


# ---------------------------------------------------------------- CSV

def lines_of(good: bytes) -> list[bytes]:
    rows = good.splitlines()
    if len(rows) < 2:
        raise NotApplicable("fewer than two lines")
    return rows


def spoil_field(good: bytes, rng: random.Random, value: bytes) -> bytes:
    """Replace one field of one data line."""
    rows = lines_of(good)
    i = rng.randrange(1, len(rows))
    cells = rows[i].split(b",")
    cells[rng.randrange(len(cells))] = value
    rows[i] = b",".join(cells)
    return b"\n".join(rows) + b"\n"


@mutator("csv", "refuse", "Line L, column C: the field is far too long (a quote not closed?).")
def csv_giant_field(good, rng):
    return spoil_field(good, rng, b'"' + b"\n" * rng.choice([140_000, 3_000_000]) + b'"')


@mutator("csv", "refuse", "Line L: a quotation mark is opened and never closed.")
def csv_open_quote(good, rng):
    return spoil_field(good, rng, b'"3')


@mutator("csv", "refuse", "Line L holds a NUL byte; damaged, or saved as 'Unicode text' (UTF-16).")
def csv_nul(good, rng):
    return spoil_field(good, rng, rng.choice([b"\x00", b"3\x00", b"\x003"]))


@mutator("csv", "refuse", "Line L is not UTF-8; save as 'CSV UTF-8'.")
def csv_lone_surrogate(good, rng):
    return spoil_field(good, rng, rng.choice([b"\xed\xa0\x80", b"\xed\xb3\xbf3", b"\xc0\xb3"]))


@mutator("csv", "either", "The file is UTF-16: read the same answers, or 'save as CSV UTF-8'.")
def csv_utf16(good, rng):
    return good.decode("utf-8").encode(rng.choice(["utf-16", "utf-16-le", "utf-16-be"]))


@mutator("csv", "refuse", "1,000,000 columns: not a sheet of this session.")
def csv_million_columns(good, rng):
    rows = lines_of(good)
    rows[rng.randrange(len(rows))] += b"," * 1_000_000
    return b"\n".join(rows) + b"\n"


@mutator("csv", "refuse", "Line L has k fields, the heading has m.")
def csv_ragged(good, rng):
    rows = lines_of(good)
    i = rng.randrange(1, len(rows))
    rows[i] = rng.choice([rows[i] + b",9", rows[i].rsplit(b",", 1)[0]])
    return b"\n".join(rows) + b"\n"


@mutator("csv", "refuse", "The heading 'X' stands twice; which column counts?")
def csv_heading_twice(good, rng):
    rows = lines_of(good)
    head = rows[0].split(b",")
    extra = rng.choice(head)
    return b"\n".join([rows[0] + b"," + extra] + [r + b",1" for r in rows[1:]]) + b"\n"


@mutator("csv", "refuse", "Line L, column C: a number of 5,000 digits; expected A to B.")
def csv_long_integer(good, rng):
    return spoil_field(good, rng, b"9" * 5000)


@mutator("csv", "ask", "Line L, column C: text that a spreadsheet would run; kept as plain text.")
def csv_formula_text(good, rng):
    return spoil_field(good, rng, rng.choice([
        b'"=HYPERLINK(""http://invalid.invalid"",""x"")"', b"+cmd|' /C calc'!A0",
        b"@SUM(1+1)*cmd|' /C calc'!A0", b"-2+3+cmd|' /C calc'!A0", b"\t=1+1", b"\r=1+1"]))


@mutator("csv", "ask", "Line L, column C: control characters; shown escaped, never raw.")
def csv_control_text(good, rng):
    return spoil_field(good, rng, rng.choice([
        b"\x1b[2J\x1b[1;1Hall is well", b"\x07\x08\x08", "\u202egnp.exe".encode(),
        "\u200b3".encode(), b"\x1b]0;title\x07", b"<script>alert(1)</script>"]))


@mutator("csv", "accept", "(nothing: same content, other byte order mark or line ends)")
def csv_bom_and_line_ends(good, rng):
    return rng.choice([b"\xef\xbb\xbf", b""]) + b"\r\n".join(good.splitlines()) + rng.choice(
        [b"\r\n", b""])


@mutator("csv", "either", "Semicolons or tabs instead of commas: read the same, or say so.")
def csv_other_delimiter(good, rng):
    if b'"' in good:
        raise NotApplicable("quotes")
    return good.replace(b",", rng.choice([b";", b"\t"]))


# ---------------------------------------------------------------- TOML

@mutator("toml", "refuse", "Line L: brackets nested beyond sense.")
def toml_deep_array(good, rng):
    n = rng.choice([2_000, 100_000])
    return good + b"\nzz_deep = " + b"[" * n + b"]" * n + b"\n"


@mutator("toml", "refuse", "Line L: tables nested beyond sense.")
def toml_deep_key(good, rng):
    return good + b"\n" + b".".join([b"a"] * 20_000) + b" = 1\n"


@mutator("toml", "refuse", "Line L, key K: the number is too large.")
def toml_huge_integer(good, rng):
    big = rng.choice([b"9" * 5000, b"9" * 19, b"0x" + b"f" * 9000])
    new, k = re.subn(rb"(?m)^(\s*[\w-]+\s*=\s*)\d+\s*$", rb"\g<1>" + big, good, count=1)
    return new if k else good + b"\nzz = " + big + b"\n"


@mutator("toml", "refuse", "Line L: key K is given twice.")
def toml_key_twice(good, rng):
    keys = [m for m in re.finditer(rb"(?m)^[\w-]+\s*=\s*[^\n\[{\"']*$", good)]
    if not keys:
        raise NotApplicable("no plain keys")
    m = rng.choice(keys)
    return good[: m.end()] + b"\n" + m[0] + good[m.end():]


@mutator("toml", "refuse", "Key K is not known here; did you mean ...?")
def toml_key_misspelt(good, rng):
    keys = list(re.finditer(rb"(?m)^([\w-]{3,})(\s*=)", good))
    if not keys:
        raise NotApplicable("no keys")
    m = rng.choice(keys)
    k = m[1]
    i = rng.randrange(len(k) - 1)
    wrong = k[:i] + k[i + 1: i + 2] + k[i: i + 1] + k[i + 2:]
    if wrong == k:
        wrong = k + b"s"
    return good[: m.start()] + wrong + m[2] + good[m.end():]


@mutator("toml", "refuse", "Key K: expected a whole number / a text / a date, found another type.")
def toml_wrong_type(good, rng):
    keys = list(re.finditer(rb"(?m)^([\w-]+\s*=\s*)[^\n\[{]+$", good))
    if not keys:
        raise NotApplicable("no keys")
    m = rng.choice(keys)
    v = rng.choice([b"nan", b"inf", b"true", b"[]", b"{}", b'"\\u0000"', b"1e999",
                    b"0001-01-01", b'"' + b"x" * 100_000 + b'"'])
    return good[: m.start()] + m[1] + v + good[m.end():]


@mutator("toml", "refuse", "The file is not UTF-8 / holds a NUL; save as UTF-8 text.")
def toml_not_utf8(good, rng):
    return rng.choice([good.decode().encode("utf-16"), good + b"\x00", good + b"# \xed\xa0\x80\n"])


# ---------------------------------------------------------------- PNG and JPEG

def chunk(tag: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + tag + data + struct.pack(">I", zlib.crc32(tag + data))


PNG = b"\x89PNG\r\n\x1a\n"


def png(width: int, height: int, rows: bytes, depth: int = 8, colour: int = 0,
        extra: bytes = b"") -> bytes:
    """A PNG of raw rows (each with its filter byte)."""
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return PNG + chunk(b"IHDR", head) + extra + chunk(b"IDAT", zlib.compress(rows, 9)) + chunk(
        b"IEND", b"")


def need_png(good: bytes) -> bytes:
    if not good.startswith(PNG):
        raise NotApplicable("not a PNG")
    return good


@mutator("png", "refuse", "The picture says it is W x H pixels; the largest read is ...")
def png_giant_header(good, rng):
    need_png(good)
    w, h = rng.choice([(2**31 - 1, 2**31 - 1), (10**6, 10**6), (65500, 65500)])
    head = chunk(b"IHDR", struct.pack(">II", w, h) + good[24:29])
    return good[:8] + head + good[33:]


@mutator("png", "refuse", "The picture unpacks to W x H pixels: too large.")
def png_bomb(good, rng):
    w = h = 16000
    return png(w, h, bytes((w // 8 + 1) * h), depth=1)


@mutator("png", "refuse", "The picture is cut off: lower part missing. Send it again.")
def png_cut_off(good, rng):
    need_png(good)
    return good[: rng.randrange(40, len(good) - 12)]


@mutator("png", "refuse", "The picture is damaged (checksum). Send it again.")
def png_bad_crc(good, rng):
    need_png(good)
    at = good.find(b"IDAT")
    n = struct.unpack(">I", good[at - 4: at])[0]
    raw = bytearray(good)
    raw[at + 4 + rng.randrange(n)] ^= 0x55
    return bytes(raw)


@mutator("png", "refuse", "The picture has no pixels / is too small to hold a sheet.")
def png_zero_or_one_pixel(good, rng):
    return rng.choice([png(0, 0, b""), png(1, 1, b"\x00\x80"), png(5000, 1, bytes(5001))])


@mutator("png", "either", "A text block in the picture unpacks to 100 MB; not needed, not read.")
def png_text_bomb(good, rng):
    need_png(good)
    z = chunk(b"zTXt", b"Comment\x00\x00" + zlib.compress(bytes(100 << 20), 9))
    return good[:33] + z + good[33:]


def need_jpeg(good: bytes) -> bytes:
    if not good.startswith(b"\xff\xd8"):
        raise NotApplicable("not a JPEG")
    return good


@mutator("jpeg", "refuse", "The photo is cut off: lower part grey. Send it again.")
def jpeg_cut_off(good, rng):
    need_jpeg(good)
    return good[: rng.randrange(len(good) // 3, max(len(good) // 3 + 1, len(good) - 200))]


@mutator("jpeg", "refuse", "The photo says it is 65500 x 65500 pixels; the largest read is ...")
def jpeg_giant_header(good, rng):
    need_jpeg(good)
    m = re.search(rb"\xff[\xc0\xc1\xc2]\x00.\x08", good, re.DOTALL)
    if not m:
        raise NotApplicable("no frame header")
    return good[: m.end()] + struct.pack(">HH", 65500, 65500) + good[m.end() + 4:]


@mutator("jpeg", "either", "The photo's notes (EXIF) are broken; the picture is not.")
def jpeg_exif_broken(good, rng):
    need_jpeg(good)
    body = b"Exif\x00\x00MM\x00*\x00\x00\x00\x08" + rng.choice([
        b"\xff\xff" + rng.randbytes(200),
        struct.pack(">HHHII", 1, 0x0112, 3, 1, 99 << 16) + struct.pack(">I", 8)])  # loop, 99
    return good[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + good[2:]


@mutator("jpeg", "refuse", "This is not the picture its name says (text, HEIC, video).")
def jpeg_is_other(good, rng):
    return rng.choice([b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + rng.randbytes(900),
                       b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"GIF89a" + bytes(20),
                       b"\x00\x00\x00\x18ftypmp42" + rng.randbytes(900)])


# ---------------------------------------------------------------- PDF

def need_pdf(good: bytes) -> bytes:
    if b"%PDF-" not in good[:1024]:
        raise NotApplicable("not a PDF")
    return good


def pdf(objects: list[bytes], root: int = 1, trailer: bytes = b"") -> bytes:
    """A PDF of these objects, numbered from 1."""
    out, at = bytearray(b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n"), []
    for i, body in enumerate(objects, 1):
        at.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (i, body)
    xref = len(out)
    out += b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    out += b"".join(b"%010d 00000 n \n" % a for a in at)
    out += b"trailer\n<</Size %d/Root %d 0 R%s>>\nstartxref\n%d\n%%%%EOF\n" % (
        len(objects) + 1, root, trailer, xref)
    return bytes(out)


def replace_box(good: bytes, box: bytes) -> bytes:
    """Change the MediaBox; padded so that offsets stay right when the new one is not longer."""
    need_pdf(good)
    m = re.search(rb"/MediaBox\s*\[[^\]]*\]", good)
    if not m:
        raise NotApplicable("MediaBox not in clear")
    new = b"/MediaBox[" + box + b"]"
    return good[: m.start()] + new.ljust(len(m[0])) + good[m.end():]


@mutator("pdf", "either", "Page 1 has another size than the printed sheet: read the same, or say so.")
def pdf_media_box(good, rng):
    return replace_box(good, rng.choice([b"0 0 842 595", b"0 0 420 595", b"99 99 694 941"]))


@mutator("pdf", "refuse", "Page 1 has an impossible size.")
def pdf_media_box_absurd(good, rng):
    return replace_box(good, rng.choice([b"0 0 9e9 9e9", b"0 0 0 0", b"0 0 -5 -5", b"0 0", b"",
                                         b"0 0 1 99999999", b"/A /B /C /D"]))


@mutator("pdf", "refuse", "The PDF is cut off. Send it again.")
def pdf_cut_off(good, rng):
    need_pdf(good)
    return good[: rng.randrange(20, max(21, len(good) // 2))]


@mutator("pdf", "refuse", "The PDF is locked with a password.")
def pdf_encrypted(good, rng):
    need_pdf(good)
    enc = b"/Encrypt<</Filter/Standard/V 2/R 3/Length 128/P -44/O<%s>/U<%s>>>/ID[<00><00>]" % (
        rng.randbytes(32).hex().encode(), rng.randbytes(32).hex().encode())
    at = good.rfind(b"trailer")
    if at < 0:
        raise NotApplicable("no trailer")
    return good[:at] + good[at:].replace(b"<<", b"<<" + enc, 1)


@mutator("pdf", "refuse", "The page list of the PDF runs in a circle: damaged.")
def pdf_page_loop(good, rng):
    return pdf([b"<</Type/Catalog/Pages 2 0 R>>",
                b"<</Type/Pages/Count 1/Kids[3 0 R]>>",
                b"<</Type/Pages/Count 1/Kids[2 0 R]/Parent 2 0 R>>"])


@mutator("pdf", "refuse", "5,000 pages: more than this session has sheets.")
def pdf_many_pages(good, rng):
    kids = b" ".join(b"3 0 R" for _ in range(5000))
    return pdf([b"<</Type/Catalog/Pages 2 0 R>>",
                b"<</Type/Pages/Count 5000/Kids[" + kids + b"]>>",
                b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]>>"])


@mutator("pdf", "refuse", "A stream of the PDF unpacks to far more than a page holds.")
def pdf_stream_bomb(good, rng):
    z = zlib.compress(b" " * (300 << 20), 9)
    return pdf([b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 1/Kids[3 0 R]>>",
                b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]/Contents 4 0 R>>",
                b"<</Length %d/Filter/FlateDecode>>\nstream\n%s\nendstream" % (len(z), z)])


@mutator("pdf", "refuse", "The PDF has no pages / the page has no sheet on it.")
def pdf_no_pages(good, rng):
    return rng.choice([
        pdf([b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 0/Kids[]>>"]),
        pdf([b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 1/Kids[3 0 R]>>",
             b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 595 842]>>"])])


# ---------------------------------------------------------------- any file

@mutator("any", "refuse", "The file is empty (0 bytes).")
def any_empty(good, rng):
    return b""


@mutator("any", "refuse", "The file holds only zeros (a copy that was cut by a power failure?).")
def any_zeros(good, rng):
    return bytes(len(good))


@mutator("any", "either", "The file is damaged near ...; other answers than the good file's never.")
def any_bytes_flipped(good, rng):
    # In a CSV or TOML a flipped digit is another valid value: there a tester compares answers
    # only when the file carries a checksum, and otherwise looks at the invariants alone.
    raw = bytearray(good)
    for _ in range(rng.choice([1, 4, 40])):
        raw[rng.randrange(len(raw))] ^= rng.randrange(1, 256)
    return bytes(raw)


@mutator("any", "refuse", "The middle of the file is missing.")
def any_middle_missing(good, rng):
    a = rng.randrange(len(good) // 4, len(good) // 2)
    return good[:a] + good[a + max(1, len(good) // 8):]


# ---------------------------------------------------------------- names and places

def name_utf8_too_long(suffix: str, rng: random.Random) -> bytes:
    """255 bytes: the longest a file system takes; a copy 'name (2)' no longer fits."""
    return b"s" * (255 - len(suffix)) + suffix.encode()


NAMES: dict[str, Callable[[str, random.Random], bytes]] = {
    "name_255_bytes": name_utf8_too_long,
    "name_not_utf8": lambda s, r: b"sheet_\xff\xfe_\x81" + s.encode(),
    "name_reserved_con": lambda s, r: b"CON" + s.encode(),
    "name_reserved_aux": lambda s, r: b"aux" + s.encode(),
    "name_newline": lambda s, r: b"sheet\n[OK] all read" + s.encode(),
    "name_escape": lambda s, r: b"sheet\x1b[2J\x1b[31m" + s.encode(),
    "name_dash": lambda s, r: b"--delete" + s.encode(),
    "name_formula": lambda s, r: b"=cmd()" + s.encode(),
    "name_html": lambda s, r: b"<img src=x onerror=alert(1)>" + s.encode(),
    "name_no_suffix": lambda s, r: b"sheet",
    "name_two_suffixes": lambda s, r: b"sheet" + s.encode() + b".exe",
    "name_upper_suffix": lambda s, r: b"SHEET" + s.upper().encode(),
    "name_trailing_space": lambda s, r: b"sheet" + s.encode() + b" ",
    "name_lock_file": lambda s, r: b"~$sheet" + s.encode(),
    "name_apple_double": lambda s, r: b"._sheet" + s.encode(),
}
NAME_MUST = ("The content is a good file: it is read, or refused because of its name with a way "
             "out (rename). The name is shown escaped on one line. The kept original gets a safe "
             "name and the true name is in the log. '~$' and '._' files are skipped with a word.")


def places(folder: Path, good: bytes) -> dict[str, str]:
    """Things that are not plain files. Returns name -> what must hold. POSIX only."""
    said: dict[str, str] = {}

    def put(name, what, do):
        try:
            do(folder / name)
            said[name] = what
        except OSError as e:
            said[name] = f"not made here: {e}"

    put("folder.xlsx", "a folder is not a file: say so", lambda p: p.mkdir())
    put("pipe.xlsx", "a pipe: refused at once, must not hang", os.mkfifo)
    put("loop.xlsx", "a link in a circle: say so", lambda p: p.symlink_to(p.name))
    put("nowhere.xlsx", "a dead link: say so", lambda p: p.symlink_to("gone"))
    put("zero.csv", "a link to an endless device: refused at once",
        lambda p: p.symlink_to("/dev/zero"))

    def locked(p):
        p.write_bytes(good)
        p.chmod(0)
    put("locked.xlsx", "no right to read it: say so (as root it is readable)", locked)
    return said


# ---------------------------------------------------------------- built-in good files

def good_csv() -> bytes:
    return b"code,attribute,score\n" + b"".join(
        b"%d,%s,%d\n" % (c, a, s) for c, a, s in
        [(417, b"sweet", 3), (417, b"sour", 5), (283, b"sweet", 4), (283, b"sour", 2)])


def good_xlsx() -> bytes:
    head = b'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    ns = "http://schemas.openxmlformats.org"
    rows = [["code", "sweet", "sour"], [417, 3, 5], [283, 4, 2], [906, 1, 6]]
    xml, strings = [], []
    for r, row in enumerate(rows, 1):
        xml.append(f'<row r="{r}">')
        for c, v in enumerate(row):
            ref = "ABC"[c] + str(r)
            if isinstance(v, str):
                strings.append(f"<si><t>{v}</t></si>")
                xml.append(f'<c r="{ref}" t="s"><v>{len(strings) - 1}</v></c>')
            else:
                xml.append(f'<c r="{ref}"><v>{v}</v></c>')
        xml.append("</row>")
    main = f'xmlns="{ns}/spreadsheetml/2006/main"'
    rel = f"{ns}/officeDocument/2006/relationships"
    ct = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    p = {
        "[Content_Types].xml": f'<Types xmlns="{ns}/package/2006/content-types"><Default Extension='
        '"rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default '
        f'Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" '
        f'ContentType="{ct}.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" '
        f'ContentType="{ct}.worksheet+xml"/><Override PartName="/xl/sharedStrings.xml" '
        f'ContentType="{ct}.sharedStrings+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{ns}/package/2006/relationships"><Relationship '
        f'Id="r1" Type="{rel}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook {main} xmlns:r="{rel}"><sheets><sheet name="scores" '
        'sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{ns}/package/2006/relationships">'
        f'<Relationship Id="r1" Type="{rel}/worksheet" Target="worksheets/sheet1.xml"/>'
        f'<Relationship Id="r2" Type="{rel}/sharedStrings" Target="sharedStrings.xml"/>'
        "</Relationships>",
        "xl/sharedStrings.xml": f"<sst {main}>{''.join(strings)}</sst>",
        "xl/worksheets/sheet1.xml": f'<worksheet {main}><dimension ref="A1:C4"/><sheetData>'
        f"{''.join(xml)}</sheetData></worksheet>",
    }
    return pack({k: head + v.encode() for k, v in p.items()})


def good_toml() -> bytes:
    return (b'title = "Tank 7"\nseats = 6\nseed = 12\ndate = 2026-11-26\n\n[scale]\nlow = 0\n'
            b"high = 9\n")


def good_png() -> bytes:
    w, h = 300, 420
    rows = bytearray()
    for y in range(h):
        rows += b"\x00" + bytes(0 if (x // 30 + y // 30) % 5 == 0 else 255 for x in range(w))
    return png(w, h, bytes(rows))


def good_jpeg() -> bytes:
    try:
        from PIL import Image
    except ImportError:
        return b""
    out = io.BytesIO()
    Image.open(io.BytesIO(good_png())).save(out, "JPEG", quality=80)
    return out.getvalue()


def good_pdf() -> bytes:
    z = zlib.compress(b"1 w 50 50 495 742 re S 100 100 20 20 re f")
    return pdf([b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Count 1/Kids[3 0 R]>>",
                b"<</Type/Page/Parent 2 0 R/MediaBox [0.000 0.000 595.276 841.890]/Contents 4 0 R"
                b">>", b"<</Length %d/Filter/FlateDecode>>\nstream\n%s\nendstream" % (len(z), z)])


BUILT_IN: dict[str, Callable[[], bytes]] = {
    "csv": good_csv, "xlsx": good_xlsx, "toml": good_toml, "png": good_png, "jpeg": good_jpeg,
    "pdf": good_pdf}


# ---------------------------------------------------------------- writing a folder

def make(folder: str | os.PathLike[str], n: int, seed: int,
         good: Mapping[str, list[bytes]] | None = None, kinds: tuple[str, ...] = (),
         mutators: Mapping[str, Mutator] | None = None) -> list[dict[str, object]]:
    """Write `n` bad files into `folder` and a manifest; every mutator is used in turn.

    good : kind -> list of bytes of good files made by the tool (better than the built-in ones).
    kinds : only these kinds, e.g. ("xlsx", "csv"); all when empty.
    After the mutators each entry of NAMES is written once too (not counted in `n`).
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    todo = [m for m in (mutators or MUTATORS).values()
            if not kinds or m.kind in kinds or m.kind == "any"]
    listed: list[dict[str, object]] = []
    for i in range(n):
        m = todo[i % len(todo)]
        rng = random.Random(f"{seed}/{i}/{m.name}")
        kind = m.kind if m.kind != "any" else rng.choice(kinds or tuple(BUILT_IN))
        pool = list((good or {}).get(kind, []))
        base = rng.choice(pool) if pool else BUILT_IN[kind]()
        source = "given" if pool else "built-in"
        if not base:
            continue
        try:
            bad = m.run(base, rng)
        except NotApplicable:
            source, bad = "built-in", m.run(BUILT_IN[kind](), rng)
        name = f"{i:04d}_{m.name}{m.suffix or SUFFIX[kind]}"
        (folder / name).write_bytes(bad)
        listed.append({"file": name, "mutator": m.name, "kind": kind, "verdict": m.verdict,
                       "must_say": m.must_say, "seed": f"{seed}/{i}/{m.name}", "from": source,
                       "bytes": len(bad)})
    names = folder / "names"
    for label, build in NAMES.items():
        rng = random.Random(f"{seed}/{label}")
        kind = rng.choice(kinds or ("xlsx", "csv", "png"))
        sub = names / label
        sub.mkdir(parents=True, exist_ok=True)
        raw = build(SUFFIX[kind], rng)
        pool = list((good or {}).get(kind, []))
        try:
            with open(os.path.join(os.fsencode(sub), raw), "wb") as f:
                f.write(pool[0] if pool else BUILT_IN[kind]())
        except OSError as e:
            listed.append({"file": f"names/{label}", "not_made": str(e)})
            continue
        listed.append({"file": f"names/{label}/" + raw.decode("utf-8", "backslashreplace"),
                       "mutator": label, "kind": kind, "verdict": "either",
                       "must_say": NAME_MUST})
    (folder / "manifest.json").write_text(
        json.dumps({"seed": seed, "invariants": INVARIANTS, "files": listed}, indent=1),
        encoding="utf-8")
    return listed


def main(argv: list[str]) -> int:
    if len(argv) < 3:
        print(__doc__)
        return 2
    good: dict[str, list[bytes]] = {}
    back = {v: k for k, v in SUFFIX.items()}
    for path in map(Path, argv[3:]):
        kind = back.get(path.suffix.lower())
        if kind:
            good.setdefault(kind, []).append(path.read_bytes())
    listed = make(argv[0], int(argv[1]), int(argv[2]), good)
    print(f"{len(listed)} files, {len(MUTATORS)} mutators, {len(NAMES)} names")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
