"""The spreadsheet a breeder kept so far: days down, pups across, ounces; and its sums straight from the file."""

import io
import zipfile
from fractions import Fraction
from xml.etree import ElementTree

import xlsxwriter  # type: ignore[import-untyped]

BANDS = ("moss", "rust", "slate", "plum", "teal", "ochre", "rose", "fawn")
RUNT = "fawn"
DAYS = 28  # day 0, the day of birth, to day 27
# The international avoirdupois ounce, exactly: NIST Special Publication 811, appendix B.8.
GRAMS_PER_OUNCE = Fraction("28.349523125")
_SPACE = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}


def ounces(band: str, day: int) -> float:
    """A made-up growth of about 5.5 % a day on a scale that shows tenths of an ounce; the runt is half as heavy."""
    at_birth, grows = (8.0, 1.050) if band == RUNT else (13.0 + 0.3 * BANDS.index(band), 1.056)
    return round(at_birth * grows**day, 1)


def grid_in_ounces() -> bytes:
    """The file, with a heading and a row of averages made by formulas."""
    kept = io.BytesIO()
    with xlsxwriter.Workbook(kept, {"in_memory": True}) as book:
        sheet = book.add_worksheet("Bramble")
        sheet.merge_range(0, 0, 0, len(BANDS), "Bramble's litter - weights in oz", book.add_format())
        sheet.write_row(1, 0, ["Day", *(band.title() for band in BANDS)])
        for day in range(DAYS):
            sheet.write_row(2 + day, 0, [day, *(ounces(band, day) for band in BANDS)])
        sheet.write(2 + DAYS, 0, "Average")
        for place in range(len(BANDS)):
            column = chr(ord("B") + place)
            sheet.write_formula(2 + DAYS, 1 + place, f"=AVERAGE({column}3:{column}{2 + DAYS})", None, 30)
    return kept.getvalue()


def grams_in_file(content: bytes) -> dict[str, list[Fraction]]:
    """Grams of each pup day by day, from the XML in the archive: nothing but the standard library reads it."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        words = [
            "".join(part.text or "" for part in item.iter(f"{{{_SPACE['m']}}}t"))
            for item in ElementTree.fromstring(archive.read("xl/sharedStrings.xml")).findall("m:si", _SPACE)
        ]
        sheet = ElementTree.fromstring(archive.read("xl/worksheets/sheet1.xml"))
    bands: dict[str, str] = {}
    grams: dict[str, list[Fraction]] = {}
    for cell in sheet.iter(f"{{{_SPACE['m']}}}c"):
        place, value = cell.get("r", ""), cell.findtext("m:v", None, _SPACE)
        column, row = place.rstrip("0123456789"), int(place.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
        if value is None or column == "A" or row == 1 or cell.find("m:f", _SPACE) is not None:
            continue
        if row == 2:
            bands[column] = words[int(value)].lower()
        else:
            grams.setdefault(bands[column], []).append(Fraction(value) * GRAMS_PER_OUNCE)
    return grams
