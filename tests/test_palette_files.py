"""Palette files: what is read, what is refused and in what words, and write-read round trips."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path

import pytest
from himotif.core.bead import Bead
from himotif.core.errors import HimotifError, Problems, WrongUsage
from himotif.core.findings import Code
from himotif.palette.files import (
    OPTIONAL,
    REQUIRED,
    SHAPES,
    code_of,
    palette_csv,
    palette_file,
    palette_gpl,
    parse_palette,
    plain_word,
    read_palette,
    words_of,
)
from himotif.palette.palette import Palette
from hypothesis import given
from hypothesis import strategies as st

MARSH = '''code,name,colour,size,shape,finish,stock,grams,price
A,oyster,#f3eee1,8/0,round,matte,900,24,0.12
tide,"high tide, ""spring""",lab(45 -10 -20 D50),,drop,,0,,
Ж,тростник,#5e7b40,11/0,,,,7.5,3
'''


def problems(source: str | bytes, file: str = "marsh.csv") -> tuple[str, ...]:
    with pytest.raises(Problems) as error:
        parse_palette(source, file)
    return error.value.problems


def test_a_full_file() -> None:
    palette = parse_palette(MARSH, "drawer/marsh.csv")
    assert palette.name == "marsh"
    assert palette.findings == ()
    oyster, tide, reed = palette.beads
    assert oyster == Bead("A", "oyster", (243, 238, 225), "8/0", "round", "matte", 900, 24.0, 0.12)
    assert (tide.code, tide.name, tide.shape, tide.stock) == (
        *("tide", 'high tide, "spring"', "drop", 0),
    )
    assert tide.size is tide.finish is tide.grams is tide.price is None
    assert (reed.code, reed.name, reed.grams) == ("Ж", "тростник", 7.5)
    assert palette.rgb.shape == palette.lab.shape == (3, 3)
    assert palette.index("Ж") == 2
    with pytest.raises(WrongUsage, match="A, tide, Ж"):
        palette.index("B")


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_line_ends_and_encodings(line_end: str, encoding: str) -> None:
    data = MARSH.replace("\n", line_end).encode(encoding)
    assert parse_palette(data, "marsh.csv") == parse_palette(MARSH, "marsh.csv")


@pytest.mark.parametrize("separator", [";", "\t"])
def test_separators_of_spreadsheets(separator: str) -> None:
    text = separator.join(["Code", "Name", "Color", "Grams", "", "\n"])
    text += separator.join(["A", "mist, thin", "lab(80, 0, -5)", "7,5", "", "\n"])
    text += separator * 5 + "\n"
    palette = parse_palette(text)
    assert [(bead.name, bead.grams) for bead in palette.beads] == [("mist, thin", 7.5)]
    assert palette.findings == ()


def test_mixed_separators_are_named_once_a_line() -> None:
    (message,) = problems("code;name;colour\nA,oyster,#f3eee1\nB;tide;#1c2947\n")
    assert message.startswith("marsh.csv:2:")
    assert "','" in message
    assert "';'" in message


def test_western_european_text_is_read_with_a_note() -> None:
    data = "code,name,colour\nA,rosée – crépuscule,#fff\n".encode("cp1252")
    palette = parse_palette(data, "old.csv")
    assert palette.beads[0].name == "rosée – crépuscule"
    (found,) = palette.findings
    assert (found.code, found.data) == (Code.PALETTE_NOT_UTF8, {"file": "old.csv", "line": 2})


def test_blank_lines_and_column_order() -> None:
    palette = parse_palette("\n\ncolour,code,name\n\n#fff,A,foam\n\n , ,\n#000,B,peat\n\n")
    assert [(bead.code, bead.rgb) for bead in palette.beads] == [
        ("A", (255, 255, 255)),
        ("B", (0, 0, 0)),
    ]


def test_further_columns_are_named_in_a_note() -> None:
    palette = parse_palette("code,name,colour,drawer\nA,foam,#fff,3\n", "p.csv")
    (found,) = palette.findings
    assert found.code is Code.PALETTE_COLUMNS_UNUSED
    assert found.data == {"file": "p.csv", "line": 1, "columns": ["drawer"], "more": 0}


@pytest.mark.parametrize(
    "header",
    [
        "Kürzel;Bezeichnung;Farbe;Größe;Form;Vorrat;Preis;Perlen pro Gramm;Perlen_je_Packung",
        "Code;Nom;Couleur;TAILLE;Forme;en stock;Prix;perles par gramme;Sachet",
        "Código;Nombre;Color;Tamaño;forma;existencias;precio;por-gramo;paquete",
        "codigo;nombre;color;tamano;forma;existencias;precio;por gramo;paquete",
    ],
)
@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_headings_of_other_languages(header: str, form: str) -> None:
    text = unicodedata.normalize(form, header) + "\nA;mist;#fff;8/0;;40;4,80;8,5;50\n"
    palette = parse_palette(text)
    bead = Bead("A", "mist", (255, 255, 255), "8/0", stock=40, price=4.8, per_gram=8.5, packet=50)
    assert palette.beads == (bead,)
    assert palette.findings == ()


def test_shapes_of_other_languages_and_bare_sizes() -> None:
    rows = ["A,a,#fff,Tropfen,8", "B,b,#fff,goutte,6/0", "C,c,#fff,Rund,11°", "D,d,#fff,gota,"]
    palette = parse_palette("\n".join(["code,nom,color,form,size", *rows]))
    assert [bead.shape for bead in palette.beads] == ["drop", "drop", "round", "drop"]
    assert [bead.size for bead in palette.beads] == ["8/0", "6/0", "11/0", None]


def test_no_word_stands_for_two_things() -> None:
    table = json.loads((Path(__file__).parent.parent / "palette/headings.json").read_text("utf-8"))
    assert set(table["columns"]) == {*REQUIRED, *OPTIONAL}
    assert set(table["shapes"]) == set(SHAPES)
    for kind in ("columns", "shapes"):
        words = [plain_word(word) for row in table[kind].values() for word in row]
        assert len(words) == len(set(words)) == len(words_of(kind))


def test_beads_in_a_packet_and_in_a_gram_must_be_possible() -> None:
    text = "code,name,colour,per_gram,packet\nA,a,#fff,0,0\nB,b,#fff,20000,1.5\n"
    assert [one.split(":")[1:3] for one in problems(text)] == [
        ["2", " per_gram '0' cannot be read; write a plain number above 0, or leave it empty"],
        [
            "2",
            " packet '0' is not a number of beads; write a whole number from 1 up, or leave it "
            "empty",
        ],
        [
            "3",
            " per_gram is 20000, but must be from 0.01 to 10000 beads; count the beads in a gram "
            "again",
        ],
        [
            "3",
            " packet '1.5' is not a number of beads; write a whole number from 1 up, or leave it "
            "empty",
        ],
    ]


def test_all_problems_come_together_with_their_lines() -> None:
    text = (
        "code,name,colour,size,shape,stock,grams,price\n"
        "A,foam,#fff,8/0,round,10,1,1\n"
        "A,foam again,#ffe,8/0,round,10,1,1\n"
        "B,,green,8/0,round,10,1,1\n"
        "\n"
        "C,reed,#0f0,eight,cube,-3,0,a lot\n"
        "two words,tide,#00f,8/0,round,10,1,1\n"
        'D,"tide,#00f,8/0,round,10,1,1\n'
        "E,mist,lab(80, 0, -5),8/0,round,10,1,1\n"
        "7,mud,#640,8/0,round,2.5,1,1\n"
        "F\n"
    )
    found = problems(text)
    lines = [int(problem.split(":")[1]) for problem in found]
    assert lines == [3, 4, 4, 6, 6, 6, 6, 6, 7, 8, 9, 10, 10, 11, 11]
    assert all(problem.startswith("marsh.csv:") and ";" in problem for problem in found)
    for problem, word in zip(
        found,
        [
            *("line 2", "no name", "green", "size", "shape", "stock", "grams", "price"),
            *("two words", "quotation mark", "quotation marks", "'7'", "2.5"),
            *("no name", "no colour"),
        ],
        strict=True,
    ):
        assert word in problem


@pytest.mark.parametrize(
    ("source", "line", "word"),
    [
        (b"", 1, "empty"),
        (b"\xef\xbb\xbf", 1, "empty"),
        (b" \r\n \r\n", 1, "empty"),
        (b"code,name,colour\r\n", 1, "no beads"),
        (b"\r\ncode,name,colour\r\n,,\r\n", 2, "no beads"),
        (b"A,foam,#fff\nB,peat,#000\n", 1, "no column code or name or colour"),
        (b"sign,name,colour\nA,foam,#fff\n", 1, "no column code among sign, name, colour"),
        (b"code,nmae,colour\nA,foam,#fff\n", 1, "is 'nmae' meant for 'name'?"),
        (b"code,name,colour,color\nA,foam,#fff,#fff\n", 1, "twice"),
        (b"PK\x03\x04\x14\x00\x06\x00", 1, "spreadsheet"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", 1, "not a text file"),
        (b"\xff\xfec\x00o\x00", 1, "no column"),
        (b"\xff\xfec\x00o", 1, "UTF-16"),
    ],
)
def test_files_that_are_no_palette(source: bytes, line: int, word: str) -> None:
    (problem,) = problems(source)
    assert problem.startswith(f"marsh.csv:{line}: ")
    assert word in problem


def test_a_clipped_colour_and_twin_codes_are_notes() -> None:
    palette = parse_palette("code,name,colour\nA,foam,#fff\na,lime,lch(80 150 130)\n", "p.csv")
    assert [one.data["line"] for one in palette.findings] == [3, 3]
    assert [one.code for one in palette.findings] == [Code.COLOUR_CLIPPED, Code.CODES_ALIKE]


def test_a_size_beyond_the_table_is_kept_with_a_note() -> None:
    palette = parse_palette("code,name,colour,size\nA,foam,#fff,10/0\n", "p.csv")
    assert palette.beads[0].size == "10/0"
    assert [one.code for one in palette.findings] == [Code.SIZE_NOT_IN_TABLE]


def test_the_command_line_names_the_file_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(HimotifError, match=r"nowhere\.csv: there is no such file"):
        read_palette(tmp_path / "nowhere.csv")
    with pytest.raises(HimotifError, match="cannot be read"):
        read_palette(tmp_path)


# ----------------------------------------------------------------------------- GIMP palette

GPL = """GIMP Palette
Name: first light
Columns: 3
#
252 246 232\tshell
  0   0   0 ebb tide  at night
# a remark
12 34 56
"""


def test_gimp_palette() -> None:
    palette = parse_palette(GPL, "x.gpl")
    assert palette.name == "first light"
    assert palette.beads == (
        Bead("A", "shell", (252, 246, 232)),
        Bead("B", "ebb tide at night", (0, 0, 0)),
        Bead("C", "#0c2238", (12, 34, 56)),
    )
    # known by what is in it, not by the name of the file
    assert parse_palette(GPL, "x.csv").beads == palette.beads
    assert parse_palette(GPL.replace("\n", "\r\n").encode("utf-8-sig"), "x").beads == palette.beads


def test_pillow_reads_the_gimp_palettes_we_write(tmp_path: Path) -> None:
    from PIL.GimpPaletteFile import GimpPaletteFile

    palette = parse_palette(GPL)
    (tmp_path / "p.gpl").write_bytes(palette_file(palette, "p.gpl")[0])
    with (tmp_path / "p.gpl").open("rb") as file:
        colours, mode = GimpPaletteFile(file).getpalette()
    assert mode == "RGB"
    assert colours[: palette.rgb.size] == palette.rgb.tobytes()


def test_gimp_palette_problems() -> None:
    found = problems("GIMP Palette\n1 2\n1 2 300 x\n#\n-1 2 3 y\n1 2 3 z\n", "x.gpl")
    assert [problem.split(":")[1] for problem in found] == ["2", "3", "5"]
    assert all(";" in problem for problem in found)
    assert "no colours" in problems("GIMP Palette\nName: x\n#\n", "x.gpl")[0]
    assert "GIMP Palette" in problems("1 2 3 z\n", "x.gpl")[0]


def test_codes_from_the_order() -> None:
    codes = [code_of(index) for index in range(26 * 27 + 30)]
    assert codes[:3] == ["A", "B", "C"]
    assert codes[25:29] == ["Z", "AA", "AB", "AC"]
    assert codes[26 * 27 - 1 : 26 * 27 + 1] == ["ZZ", "AAA"]
    assert len(set(codes)) == len(codes)


def test_what_a_gimp_palette_cannot_hold_is_said() -> None:
    (lost,) = palette_file(parse_palette(MARSH), "p.gpl")[1]
    assert lost.code is Code.PALETTE_LEFT_OUT
    columns = ["code", "size", "shape", "finish", "stock", "grams", "price"]
    assert lost.data == {"columns": columns}
    assert palette_file(parse_palette(GPL), "p.gpl")[1] == ()
    assert palette_file(parse_palette(MARSH), "p.csv")[1] == ()


@pytest.mark.parametrize("name", ["p.xls", "p.txt", "p", "p.csv.bak", ".csv"])
def test_a_name_that_is_neither_csv_nor_gpl_is_refused(name):
    with pytest.raises(WrongUsage, match=r"end in \.csv, \.json or \.gpl"):
        palette_file(parse_palette(MARSH), name)


# ------------------------------------------------------------------------------ round trips


def _tidy(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).split())


CODES = st.from_regex(r"\A[A-Za-zÀ-ÖЀ-яぁ-ん][A-Za-z0-9_\-]{0,15}\Z")
NAMES = (
    st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=30)
    .map(_tidy)
    .filter(bool)
)
RGB = st.tuples(*[st.integers(0, 255)] * 3)
AMOUNTS = st.integers(1, 10**8).map(lambda hundredths: hundredths / 100)
BEADS = st.builds(
    Bead,
    code=CODES.map(lambda code: unicodedata.normalize("NFC", code)),
    name=NAMES,
    rgb=RGB,
    size=st.sampled_from([None, "15/0", "11/0", "8/0", "6/0"]),
    shape=st.sampled_from([None, "round", "drop"]),
    finish=st.none() | NAMES,
    stock=st.none() | st.integers(0, 10**6),
    grams=st.none() | AMOUNTS,
    price=st.none() | AMOUNTS,
    per_gram=st.none() | st.integers(1, 10**6).map(lambda hundredths: hundredths / 100),
    packet=st.none() | st.integers(1, 10**6),
)
PALETTES = st.lists(BEADS, min_size=1, max_size=8, unique_by=lambda bead: bead.code).map(
    lambda beads: Palette(tuple(beads))
)


@given(PALETTES, st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
def test_csv_comes_back(palette: Palette, encoding: str) -> None:
    again = parse_palette(palette_csv(palette).encode(encoding))
    assert again.beads == palette.beads


@given(st.lists(st.tuples(RGB, NAMES), min_size=1, max_size=40), NAMES)
def test_gpl_comes_back(rows: list[tuple[tuple[int, int, int], str]], name: str) -> None:
    beads = tuple(Bead(code_of(at), text, rgb) for at, (rgb, text) in enumerate(rows))
    assert parse_palette(palette_gpl(Palette(beads, name))) == Palette(beads, name)


@given(st.binary(max_size=200) | st.text(max_size=200).map("code,name,colour\n{}".format))
def test_any_contents_are_read_or_refused_in_words(source: bytes | str) -> None:
    try:
        codes = parse_palette(source).codes
    except Problems as error:
        codes, said = (), error.problems
    else:
        said = ()
    assert len(set(codes)) == len(codes)
    assert bool(codes) != bool(said)
    assert all(problem.startswith("palette:") for problem in said)


def test_the_demo_palettes_are_read_without_a_word() -> None:
    folder = Path(__file__).parent.parent / "fixtures" / "palettes"
    files = sorted(folder.iterdir())
    assert len(files) >= 2
    for file in files:
        palette = read_palette(file)
        assert palette.findings == ()
        assert 10 <= len(palette) <= 20


@pytest.mark.parametrize("heading", ["Nummer", "Nr", "NR."])
def test_a_number_may_stand_for_the_code(heading: str, tmp_path: Path) -> None:
    path = tmp_path / "beads.csv"
    path.write_text(f"{heading};Name;Farbe\nS7;Sand;#ddccaa\n", "utf-8")
    assert read_palette(path).codes == ("S7",)
