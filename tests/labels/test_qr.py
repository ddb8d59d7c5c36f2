"""The QR symbol: what it says, its size and level, and that it reads back."""

import pytest
import zxingcpp
from PIL import Image

from labels import BadFact, DoesNotFit, Misread, qr

# Alphanumeric characters of versions 1 to 5 at levels Q and H: ISO/IEC 18004, computed with segno.
CAPACITY = {1: (16, 10), 2: (29, 20), 3: (47, 35), 4: (67, 50), 5: (87, 64)}


def drawn(symbol: qr.Symbol, scale: int = 4) -> Image.Image:
    """The symbol's modules with their quiet zone, as pixels."""
    side = symbol.modules + 8
    picture = Image.new("L", (side, side), 255)
    for y, row in enumerate(symbol.matrix):
        for x, dark in enumerate(row):
            picture.putpixel((x + 4, y + 4), 0 if dark else 255)
    return picture.resize((side * scale, side * scale), Image.Resampling.NEAREST)


def test_the_payload_is_the_address_in_capitals_with_code_and_issue():
    assert qr.payload("https://potmark.example", "c-00318 3", 2) == "HTTPS://POTMARK.EXAMPLE/I/C003183/2"


def test_a_service_without_tls_is_not_promised_to_have_it():
    assert qr.payload("http://10.0.0.7:8000", "C003183", 1) == "HTTP://10.0.0.7:8000/I/C003183/1"


@pytest.mark.parametrize(
    "host", ["", "pot mark.example", "potmark_1.example", "a/b", "bücher.example", "x?y", ".a", "a:"]
)
def test_a_host_that_qr_codes_cannot_say_is_refused(host: str):
    with pytest.raises(BadFact, match=r"^origin must be"):
        qr.payload(f"https://{host}", "C003183", 1)


@pytest.mark.parametrize("origin", ["potmark.example", "ftp://potmark.example", "//potmark.example", "https:potmark"])
def test_an_address_without_its_scheme_is_refused(origin: str):
    with pytest.raises(BadFact, match=r"^origin must be"):
        qr.payload(origin, "C003183", 1)


def test_an_address_too_long_says_how_long_it_is_and_what_fits():
    longest = "https://" + "a" * (qr.MAX_PAYLOAD - len("HTTPS:///I/C003183/1"))
    assert len(qr.payload(longest, "C003183", 1)) == 87
    with pytest.raises(DoesNotFit, match="has 88 characters and 87 fit"):
        qr.payload(longest + "a", "C003183", 1)


@pytest.mark.parametrize("issue", [0, -1, 1_000_000])
def test_an_issue_out_of_range_is_refused(issue: int):
    with pytest.raises(BadFact, match=r"^issue must be from 1 to 999999"):
        qr.payload("https://a.example", "C003183", issue)


def test_a_misread_code_gets_no_symbol():
    with pytest.raises(Misread):
        qr.payload("https://a.example", "C003184", 1)


@pytest.mark.parametrize("length", range(1, 88))
def test_level_h_is_taken_where_it_costs_no_larger_version(length: int):
    symbol = qr.symbol("A" * length)
    smallest_q = next(version for version, (q, _) in CAPACITY.items() if length <= q)
    fits_h = length <= CAPACITY[smallest_q][1]
    assert (symbol.version, symbol.level) == (smallest_q, "H" if fits_h else "Q")
    assert symbol.modules == 17 + 4 * symbol.version


def test_a_module_is_four_dots_and_version_3_takes_18_5_mm():
    """4 dots at 203 dpi are 0.5005 mm (25.4/203 × 4), at least the 0.396 mm of GS1 General Specifications 5.12.3.1."""
    assert pytest.approx(0.5005, abs=5e-5) == qr.MODULE_MM
    assert qr.MODULE_MM >= 0.396
    symbol = qr.symbol("HTTPS://POTMARK.HERON-YARD.EXAMPLE/I/C003183/2")
    assert symbol.version == 3
    assert symbol.side_mm == pytest.approx(18.52, abs=0.005)


@pytest.mark.parametrize(
    "text", ["A", "HTTPS://A.EXAMPLE/I/C003183/2", "B" * 47, "C" * 48, "7" * 87, "Z9 $%*+-./:" * 7]
)
def test_every_symbol_reads_back(text: str):
    found = zxingcpp.read_barcodes(drawn(qr.symbol(text)))
    assert [barcode.text for barcode in found] == [text]


@pytest.mark.parametrize("text", ["https://a", "A\n", "Ä", "A" * 88])
def test_what_the_mode_or_the_largest_symbol_cannot_hold_is_refused(text: str):
    with pytest.raises(DoesNotFit):
        qr.symbol(text)


def test_the_path_draws_exactly_the_dark_modules():
    """Each run of the path is a rectangle of whole modules; together they are the matrix."""
    symbol = qr.symbol("HTTPS://A.EXAMPLE/I/C003183/2")
    dark = set()
    for run in qr.path(symbol).split("z")[:-1]:
        start, length = run.split("h")[0], run.split("h")[1].split("v")[0]
        x, y = map(int, start.removeprefix("M").split())
        dark |= {(x + step, y) for step in range(int(length))}
    assert dark == {(x, y) for y, row in enumerate(symbol.matrix) for x, module in enumerate(row) if module}
