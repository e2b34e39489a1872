"""Files as offices write them, read as rows of text; and files that are no list, or meant to harm, refused."""

import codecs
import itertools
import zipfile
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO

import pytest
from openpyxl import Workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from orders.models import Nursery
from orders.refusals import Refused
from orders.tables import MOST_ROWS, read_table
from orders.tables.cells import date_order, day_of, price_of, refuse_formula, whole_of, yes_of


def rows_of(content: bytes) -> list[tuple[int, tuple[str, ...]]]:
    table = read_table(content)
    return [(row.number, row.cells) for row in (table.head, *table.rows)]


def saved(book: Workbook) -> bytes:
    held = BytesIO()
    book.save(held)
    return held.getvalue()


def refusal(content: bytes) -> str:
    with pytest.raises(Refused) as refused:
        read_table(content)
    assert (refused.value.field, bool(refused.value.mend)) == ("file", True)
    return refused.value.reason


TEXT = "Customer;Notes\r\nJosé Müller;1 – 2\r\n"
READ = [(1, ("Customer", "Notes")), (2, ("José Müller", "1 – 2"))]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("sign", [";", ",", "\t"])
@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
def test_csv_of_any_spreadsheet(encoding, sign, end):
    assert rows_of(TEXT.replace(";", sign).replace("\r\n", end).encode(encoding)) == READ


def test_a_quoted_cell_holds_signs_quotes_and_lines_as_rfc_4180_has_it():
    """RFC 4180, section 2, rules 5 to 7."""
    content = b'aaa,notes\r\n"zzz","say ""no"",\r\nthen go"\r\n\r\nx,y\r\n'
    assert rows_of(content)[1:] == [(2, ("zzz", 'say "no", then go')), (4, ("x", "y"))]


def test_a_hint_at_the_sign_is_taken():
    assert rows_of(b"sep=,\r\na;b,c\r\n1;2,3\r\n") == [(2, ("a;b", "c")), (3, ("1;2", "3"))]


def test_what_our_own_files_guard_is_read_without_its_apostrophe():
    assert rows_of(b"phone,name\r\n'+353 1 555,'tis\r\n")[1][1] == ("+353 1 555", "'tis")


def test_real_dates_numbers_and_truths_of_a_workbook():
    book = Workbook()
    sheet = book.active
    sheet.append(["a", "b", "c", "d", "e", "f", "g"])
    sheet.append([date(2027, 4, 21), datetime(2027, 4, 21), 60, 60.0, 2.75, True, None])  # noqa: DTZ001
    sheet["A4"] = "=B2*2"
    assert rows_of(saved(book))[1:] == [
        (2, ("2027-04-21", "2027-04-21", "60", "60", "2.75", "yes")),
        (4, ("=B2*2",)),
    ]


def test_a_workbook_that_counts_days_from_1904():
    """ECMA-376 part 1, 18.17.4.1: two systems of dates."""
    book = Workbook()
    book.epoch = CALENDAR_MAC_1904
    book.active.append(["day"])
    book.active.append([date(2027, 4, 21)])
    assert rows_of(saved(book))[1][1] == ("2027-04-21",)


def test_merged_cells_are_named():
    book = Workbook()
    book.active.append(["Customer"])
    book.active.append(["Farm"])
    book.active.merge_cells("A2:A4")
    assert refusal(saved(book)) == "Cells of the sheet are merged: A2:A4."


def squeezed(**members: bytes) -> bytes:
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in members.items():
            packed.writestr(name.replace("__", "/"), content)
    return held.getvalue()


def test_a_zip_bomb_is_not_unpacked():
    bomb = squeezed(**{"xl/workbook.xml": b"", "xl/worksheets/sheet1.xml": b"0" * 100_000_000})
    assert len(bomb) < 200_000
    assert "larger than 60 MB" in refusal(bomb)


def test_entities_that_grow_are_refused_and_not_expanded():
    """'Billion laughs': https://cwe.mitre.org/data/definitions/776.html."""
    book = Workbook()
    book.active.append(["Customer"])
    whole = saved(book)
    laughs = '<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {name} "{"&" + before + ";" * 1}{("&" + before + ";") * 9}">'
        for before, name in zip("abcdefgh", "bcdefghi", strict=True)
    ) + "]><worksheet>&i;</worksheet>"  # fmt: skip
    held = BytesIO()
    with zipfile.ZipFile(BytesIO(whole)) as source, zipfile.ZipFile(held, "w") as packed:
        for name in source.namelist():
            packed.writestr(name, laughs if name == "xl/worksheets/sheet1.xml" else source.read(name))
    assert "damaged" in refusal(held.getvalue())


def changed_sheet(before: bytes, after: bytes) -> bytes:
    """A workbook of two rows, with other words in its sheet."""
    book = Workbook()
    book.active.append(["Customer"])
    book.active.append(["Long Field"])
    held = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(saved(book))) as source,
        zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed,
    ):
        for name in source.namelist():
            kept = source.read(name)
            if name == "xl/worksheets/sheet1.xml":
                assert before in kept
                kept = kept.replace(before, after)
            packed.writestr(name, kept)
    return held.getvalue()


def with_member(name: str, content: bytes) -> bytes:
    """A workbook of one cell, one member of which is another."""
    book = Workbook()
    book.active.append(["Order"])
    held = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(saved(book))) as source,
        zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed,
    ):
        for member in source.namelist():
            packed.writestr(member, content if member == name else source.read(member))
    return held.getvalue()


SHEET = b'<x:worksheet xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><x:sheetData>'


@pytest.mark.parametrize(
    ("member", "content"),
    [
        ("xl/worksheets/sheet1.xml", SHEET + b"<x:row>" + b"<x:c/>" * 250_000),
        ("xl/worksheets/sheet1.xml", SHEET + b"<x:row/>" * 150_000),
        ("xl/worksheets/sheet1.xml", SHEET + b"<x:row><x:c><x:is><x:t>" + b"a " * 600_000),
        ("xl/worksheets/sheet1.xml", SHEET + b"<x:a>" * 250_000),
        ("xl/styles.xml", b"<styleSheet>" + b"<xf/>" * 250_000),
    ],
    ids=["one long row", "rows without end", "one long text", "deep", "styles"],
)
def test_what_the_library_would_build_up_whole_is_refused_before_it_does(member, content):
    """At sixty times the size each took 1 to 1.5 GB or half a minute, from a file of 0.1 MB."""
    assert "more rows, or longer ones, than any list" in refusal(with_member(member, content))


def test_a_picture_beside_the_list_is_no_matter():
    book = Workbook()
    book.active.append(["Order", "A-1"])
    held = BytesIO(saved(book))
    with zipfile.ZipFile(held, "a") as packed:
        packed.writestr("xl/media/leaf.png", b"\x89PNG\r\n" + b"<row>" * 300_000)
    assert read_table(held.getvalue()).head.cells == ("Order", "A-1")


def test_what_nobody_sees_is_taken_out_of_a_cell():
    """Half of a name turned round, U+202E, makes another name of it to look at: unicode.org/reports/tr36, 2.6."""
    [row] = read_table("Customer\nFarm\x07 \u202ederF\u202c\x1b".encode()).rows
    assert row.cells == ("Farm derF",)


def test_a_row_of_more_cells_than_any_list_has_columns_is_refused_and_empty_ones_do_not_count():
    assert "Row 2 has more than 80 cells" in refusal(b"Order\n" + b"x;" * 81)
    [row] = read_table(b"Order\nA-1" + b";" * 400).rows
    assert row.cells == ("A-1",)


def test_a_sheet_that_says_it_goes_on_for_ever_is_not_read_to_its_end():
    """A row names its number (ECMA-376), and the library gives each row before it: a hundred thousand million."""
    endless = changed_sheet(b'<row r="2"', b'<row r="99999999999"').replace(b"A2", b"A99999999999")
    assert "goes on to row 100000" in refusal(endless)


def test_what_only_looks_like_merged_cells_is_looked_through_once():
    """Looking from each beginning to the end of the sheet would take minutes: CWE-1333."""
    book = changed_sheet(b"<sheetData>", b"<!--" + b"<mergeCell " * 400_000 + b"--><sheetData>")
    assert rows_of(book) == [(1, ("Customer",)), (2, ("Long Field",))]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_nul_character_is_no_text_of_a_spreadsheet(encoding):
    """PostgreSQL keeps none in text or jsonb: postgresql.org/docs/current/datatype-character.html."""
    assert "neither CSV" in refusal("Customer;Notes\r\nLong\0Field;\r\n".encode(encoding))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"\r\n \r\n", "empty"),
        (b"%PDF-1.7 ...", "neither CSV"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "neither CSV"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "older kind"),
        (b"PK\x03\x04 and nothing else", "damaged"),
        (squeezed(content__xml=b"<office/>"), "no .xlsx"),
        (squeezed(xl__workbook__xml=b"<nonsense"), "no .xlsx"),
        (b'a,b\r\n1,"2\r\n', "Row 2 cannot be read"),
        (b"a,b\x81\r\n", "neither CSV"),
        (codecs.BOM_UTF16_LE + b"a", "neither CSV"),
    ],
    ids=itertools.count(),  # what is squeezed holds the time, and two workers must name the tests alike
)
def test_what_is_no_list_is_refused_in_words(content, says):
    assert says in refusal(content)


def test_too_many_rows_and_bytes_are_refused():
    row = b"Farm,60\r\n"
    assert len(read_table(b"Customer,Plants\r\n" + row * MOST_ROWS).rows) == MOST_ROWS
    assert "more than 2000 rows" in refusal(b"Customer,Plants\r\n" + row * 10_000)
    assert "larger than 5 MB" in refusal(b"x" * 20_000_000)


def test_ten_thousand_rows_of_a_workbook_are_refused():
    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    for number in range(10_000):
        sheet.append(["Farm", number])
    assert "more than 2000 rows" in refusal(saved(book))


# --- cells ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("country", "language", "order"),
    [("IE", "en-gb", "dmy"), ("US", "en-gb", "mdy"), ("ZA", "en-gb", "ymd"),
     ("", "en-gb", "dmy"), ("XX", "en-gb", "dmy")],
)  # fmt: skip
def test_the_order_of_a_day_is_the_countrys(country, language, order):
    """Unicode CLDR's short dates, read on 26 November 2026: en-IE dd/MM/y, en-US M/d/yy, en-ZA y/MM/dd."""
    nursery = Nursery(country=country, language=language)
    assert date_order(nursery) == order
    written = {"dmy": "3/4/2027", "mdy": "4/3/2027", "ymd": "2027/04/03"}[order]
    assert day_of(written, nursery) == date(2027, 4, 3)


@pytest.mark.parametrize(
    "text",
    ["2027-04-21", "2027-04-21 00:00", "21.4.27", "21. 4. 2027", "April 21, 2027", "Wed 21 apr 27"],
)
def test_days_as_people_write_them(text):
    assert day_of(text, Nursery(country="IE")) == date(2027, 4, 21)


@pytest.mark.parametrize("text", ["31.2.2027", "46133", "soon", "21.4.", "4/21/2027", "week 16", "21 April"])
def test_what_is_no_day_says_how_to_write_one(text):
    with pytest.raises(Refused, match=r"21/04/2027 or 2027-04-21"):
        day_of(text, Nursery(country="IE"))


def test_numbers_as_people_write_them():
    assert [whole_of(text) for text in ("60", "1200", "1,200", "1.200", "1 200", "1'200", "1.200.000")] == [
        60, 1200, 1200, 1200, 1200, 1200, 1_200_000,
    ]  # fmt: skip
    assert [price_of(text) for text in ("2.75", "2,75", "€ 2,75", "EUR 2.75", "0,275", "1.200,50")] == [
        Decimal(text) for text in ("2.75", "2.75", "2.75", "2.75", "0.275", "1200.50")
    ]  # fmt: skip
    assert [yes_of(text) for text in ("yes", "X", "1", "no", "")] == [True, True, True, False, False]


@pytest.mark.parametrize("text", ["1.5", "-5", "many", "1,20", "1.20.0", "6e3"])
def test_what_is_no_whole_number(text):
    with pytest.raises(Refused, match="no whole number"):
        whole_of(text)


def test_a_price_that_can_be_read_in_two_ways_is_asked_about():
    with pytest.raises(Refused, match=r"two ways. Write 1200, or 1\.2000"):
        price_of("1,200")
    for text in ("cheap", "-2", "2.123456", "1.2.3,4,5"):
        with pytest.raises(Refused, match="no price"):
            price_of(text)


@pytest.mark.parametrize("text", ["=B2*2", "#REF!", "#N/A"])
def test_a_formula_is_no_value(text):
    with pytest.raises(Refused, match="paste it again as values"):
        refuse_formula(text)
