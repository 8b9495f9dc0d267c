"""Import of weights through the API; what is stored is checked against the file by code of its own."""

import base64
import io
import struct
import time
import zipfile
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Any
from uuid import UUID
from xml.etree import ElementTree

import openpyxl
import pytest
import xlsxwriter  # type: ignore[import-untyped]

from kennel.people.choices import Role
from litters.services import weight_files
from tests.api import DeviceClient
from tests.factories.people import Place, add_member, make_kennel

pytestmark = pytest.mark.usefixtures("db")
BANDS = ("moss", "rust", "teal", "plum", "sand", "slate", "amber")
BORN = datetime(2026, 2, 1, 3, 10, tzinfo=UTC)
# Exact by definition: NIST Special Publication 811, appendix B.8 (pound 0.45359237 kg, 16 ounces a pound).
GRAMS_PER_OUNCE = Fraction(45359237, 100000) / 16


def make_litter(client: DeviceClient, bands: tuple[str, ...] = BANDS) -> tuple[str, dict[str, str]]:
    dam = client.post("dogs", {"name": "Sorrel", "sex": "female"}).json()["uid"]
    litter = client.post("litters", {"name": "Sorrel's", "dam": dam, "whelped_at": BORN.isoformat()}).json()[
        "uid"
    ]
    pups = {}
    for order, band in enumerate(bands, 1):
        born_at = (BORN + timedelta(minutes=20 * order)).isoformat()
        made = client.post("pups", {"litter": litter, "band": band, "birth_order": order, "born_at": born_at})
        pups[band] = made.json()["uid"]
    return litter, pups


def send(
    client: DeviceClient, litter: str, content: bytes, *, name: str = "weights.xlsx", **more: Any
) -> Any:
    body = {"file_name": name, "content": base64.b64encode(content).decode(), "dry_run": False} | more
    return client.post(f"litters/{litter}/imports", body)


def stored(client: DeviceClient) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    path = "weighings?limit=200"
    while path:
        page = client.get(path).json()
        rows += page["results"]
        path = f"weighings?limit=200&cursor={page['next']}" if page["next"] else ""
    return rows


def ounces(pup: int, day: int) -> float:
    """A smooth made-up growth of about 9 % a day, on a scale that shows quarter ounces."""
    return round(4 * (13 + 0.5 * pup) * 1.09**day) / 4


def grid_in_ounces(days: int = 14) -> bytes:
    """A grid under a merged heading, with a row of averages made by formulas and one pup not weighed once."""
    kept = io.BytesIO()
    with xlsxwriter.Workbook(kept, {"in_memory": True}) as book:
        sheet = book.add_worksheet("Sorrel")
        sheet.merge_range(
            0, 0, 0, len(BANDS), "Sorrel's litter - weights in oz", book.add_format({"bold": True})
        )
        sheet.write_row(2, 0, ["Day", *(band.title() for band in BANDS)])
        for day in range(days):
            sheet.write(3 + day, 0, day)
            for pup in range(len(BANDS)):
                if (pup, day) != (2, 5):
                    sheet.write(3 + day, 1 + pup, ounces(pup, day))
        sheet.write(3 + days, 0, "Average")
        for pup in range(len(BANDS)):
            column = chr(ord("B") + pup)
            sheet.write_formula(3 + days, 1 + pup, f"=AVERAGE({column}4:{column}{3 + days})", None, 20.5)
    return kept.getvalue()


def sums_straight_from_the_file(content: bytes) -> dict[str, Fraction]:
    """Grams per pup, from the XML in the archive: no spreadsheet library and nothing of the project is used."""
    space = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        strings = [
            "".join(part.text or "" for part in item.iter(f"{{{space['m']}}}t"))
            for item in ElementTree.fromstring(archive.read("xl/sharedStrings.xml")).findall("m:si", space)
        ]
        sheet = ElementTree.fromstring(archive.read("xl/worksheets/sheet1.xml"))
    bands: dict[str, str] = {}
    sums: dict[str, Fraction] = {}
    for cell in sheet.iter(f"{{{space['m']}}}c"):
        place, value = cell.get("r", ""), cell.findtext("m:v", None, space)
        column, row = place.rstrip("0123456789"), int(place.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
        if value is None or column == "A" or cell.find("m:f", space) is not None:
            continue
        if row == 3:
            bands[column] = strings[int(value)].lower()
        elif row > 3:
            band = bands[column]
            sums[band] = sums.get(band, Fraction(0)) + Fraction(value) * GRAMS_PER_OUNCE
    return sums


def test_a_grid_in_ounces_agrees_with_the_file_to_the_gram_and_twice_changes_nothing() -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client)
    content = grid_in_ounces()
    foreseen = send(client, litter, content, dry_run=True).json()
    assert foreseen["counts"] == {"add": 97, "added": 0, "already_here": 0, "refused": 0, "doubtful": 0}
    assert stored(client) == []
    done = send(client, litter, content).json()
    assert done["counts"] == {"add": 0, "added": 97, "already_here": 0, "refused": 0, "doubtful": 0}
    assert [line["uid"] for line in done["lines"]] == [line["uid"] for line in foreseen["lines"]]
    rows = stored(client)
    assert len(rows) == 97
    expected = sums_straight_from_the_file(content)
    assert set(expected) == set(BANDS)
    for band, uid in pups.items():
        total = sum(Fraction(str(row["weight_g"])) for row in rows if row["pup"] == uid)
        assert abs(total - expected[band]) < 1
    assert {(row["source"], row["entered_unit"]) for row in rows} == {("imported", "oz")}
    assert all(UUID(row["uid"]).version in (4, 7) for row in rows)
    journal_before = client.get("journal?limit=1").json()["results"][0]["seq"]
    again = send(client, litter, content).json()
    assert again["counts"] == {"add": 0, "added": 0, "already_here": 97, "refused": 0, "doubtful": 0}
    assert stored(client) == rows
    assert client.get("journal?limit=1").json()["results"][0]["seq"] == journal_before


def test_a_weight_corrected_or_removed_after_the_import_is_not_undone_by_the_next_one() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    content = grid_in_ounces(2)
    first, second = (line["uid"] for line in send(client, litter, content).json()["lines"][:2])
    assert client.patch(f"weighings/{first}", {"weight_g": 377, "reason": "misread"}, 1).status_code == 200
    assert client.delete(f"weighings/{second}", 1).status_code == 204
    assert send(client, litter, content).json()["counts"]["already_here"] == 14
    assert client.get(f"weighings/{first}").json()["weight_g"] == 377
    assert client.get(f"weighings/{second}").json()["deleted"] is True


def test_a_list_with_semicolons_and_decimal_commas_is_read() -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client)
    text = (
        "Datum;Uhrzeit;Band;Gewicht;unit\r\n"
        "02.02.2026;07:30;moss;14,5;oz\r\n02.02.2026;07:35;rust;0,412;kg\r\n02.02.2026;;teal;;g\r\n"
    )
    text = text.replace("Datum", "Date").replace("Uhrzeit", "Time").replace("Gewicht", "Weight")
    report = send(client, litter, text.encode("utf-16"), name="weights.csv").json()
    assert report["form"] == "list"
    rows = {row["pup"]: row for row in stored(client)}
    assert len(rows) == 2
    assert (rows[pups["moss"]]["weight_g"], rows[pups["moss"]]["entered_value"]) == (411.07, 14.5)
    assert rows[pups["moss"]]["occurred_at"] == "2026-02-02T07:30:00.000Z"
    assert rows[pups["rust"]]["weight_g"] == 412


def test_a_grid_with_decimal_commas_keeps_its_columns() -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client)
    text = "Weights in oz\nDay;moss;rust\n0;14,5;13\n1;15;13,25\n"
    assert send(client, litter, text.encode(), name="w.csv").json()["counts"]["added"] == 4
    found = sorted(row["weight_g"] for row in stored(client) if row["pup"] == pups["rust"])
    assert found == [
        float(round(13 * GRAMS_PER_OUNCE, 2)),
        float(round(Fraction("13.25") * GRAMS_PER_OUNCE, 2)),
    ]


def test_the_hour_a_sheet_leaves_out_is_the_morning_on_the_kennels_clock() -> None:
    client = DeviceClient(make_kennel(zone="America/New_York"))
    litter, _ = make_litter(client)
    text = "Date,moss (g),rust (g)\n2026-03-07,412,400\n2026-03-08,430,415\n"
    report = send(client, litter, text.encode(), name="w.csv").json()
    # The clocks go forward on 8 March 2026 there (US Energy Policy Act of 2005: second Sunday in March).
    assert sorted({row["occurred_at"] for row in stored(client)}) == [
        "2026-03-07T13:00:00.000Z",
        "2026-03-08T12:00:00.000Z",
    ]
    assert "no_hour" in {note["code"] for note in report["notes"]}


def test_a_birth_column_is_the_hour_of_birth_and_the_first_day_never_lies_before_it() -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client, ("moss", "rust"))
    text = "Pup,Birth,12 h,Day 1\nmoss,350,361,380\nrust,340,350,372\n"
    send(client, litter, text.encode(), name="w.csv", unit="g")
    mine = [row for row in stored(client) if row["pup"] == pups["moss"]]
    assert [
        (row["occurred_at"], row["is_birth_weight"]) for row in sorted(mine, key=lambda r: r["weight_g"])
    ] == [
        ("2026-02-01T03:30:00.000Z", True),
        ("2026-02-01T15:30:00.000Z", False),
        ("2026-02-02T08:00:00.000Z", False),
    ]


def test_formulas_count_by_their_stored_result_and_without_one_are_refused() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    book = openpyxl.Workbook()
    sheet = book.create_sheet(index=0)
    sheet.append(["Day", "moss", "rust"])
    sheet.append([0, "=7*2", 14])
    kept = io.BytesIO()
    book.save(kept)
    report = send(client, litter, kept.getvalue(), unit="oz").json()
    assert [(line["outcome"], (line["refusal"] or {}).get("code")) for line in report["lines"]] == [
        ("refused", "formula"),
        ("added", None),
    ]
    kept = io.BytesIO()
    with xlsxwriter.Workbook(kept) as other:
        sheet = other.add_worksheet()
        sheet.write_row(0, 0, ["Day", "moss", "rust"])
        sheet.write_row(1, 0, [1, 15, 15])
        sheet.write_formula(1, 1, "=7*2+1", None, 15)
    line = send(client, litter, kept.getvalue(), unit="oz").json()["lines"][0]
    assert (line["outcome"], line["shown"], [d["code"] for d in line["doubts"]]) == (
        "added",
        "15 oz",
        ["formula"],
    )


def test_a_number_format_that_shows_the_unit_names_it() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    book = openpyxl.Workbook()
    sheet = book.create_sheet(index=0)
    sheet.append(["Day", "moss", "rust"])
    sheet.append([0, 14.5, 13])
    for cell in sheet[2][1:]:
        cell.number_format = '0.0" oz"'
    kept = io.BytesIO()
    book.save(kept)
    assert [line["weight_g"] for line in send(client, litter, kept.getvalue()).json()["lines"]] == [
        411.07,
        368.54,
    ]


def test_cells_that_begin_like_formulas_are_refused_and_shown_as_text() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    text = 'Day,moss,rust\n0,"=HYPERLINK(""http://x.example"")",400\n1,@SUM(1),+410\n'
    report = send(client, litter, text.encode(), name="w.csv", unit="g").json()
    assert [(line["row"], line["column"], line["outcome"]) for line in report["lines"]] == [
        (2, 2, "refused"), (2, 3, "added"), (3, 2, "refused"), (3, 3, "added"),
    ]  # fmt: skip
    assert report["lines"][0]["refusal"]["code"] == "formula"


def test_doubts_are_said_and_nonsense_is_refused_in_the_dry_run_as_in_the_write() -> None:
    client = DeviceClient(make_kennel())
    litter, pups = make_litter(client)
    typed = {"pup": pups["moss"], "occurred_at": "2026-02-03T08:10:00Z", "weight_g": 400}
    assert client.post("weighings", typed).status_code == 201
    text = (
        "date,band,weight (g)\n2026-02-03,moss,400\n2026-02-03,moss,400\n2026-02-03,rust,0\n2026-01-20,rust,300\n"
        "2099-01-01,rust,300\n2026-02-03,rust,410\n2026-02-03,rust,415\n2026-02-04,rust,4150\n2026-02-03,violet,400\n"
    )
    outcomes = []
    for is_dry_run in (True, False):
        report = send(client, litter, text.encode(), name="w.csv", dry_run=is_dry_run).json()
        outcomes.append(
            [
                (
                    line["row"],
                    line["outcome"].replace("added", "add"),
                    (line["refusal"] or {}).get("code"),
                    sorted(doubt["code"] for doubt in line["doubts"]),
                )
                for line in report["lines"]
            ]
        )
    assert outcomes[0] == outcomes[1]
    assert outcomes[0] == [
        (2, "add", None, ["possible_double"]),
        (3, "already_here", None, ["repeated"]),
        (4, "refused", "zero", []),
        (5, "refused", "before_birth", []),
        (6, "refused", "future", []),
        (7, "add", None, []),
        (8, "add", None, ["two_weights"]),
        (9, "add", None, ["factor_10"]),
        (10, "refused", "unknown_pup", []),
    ]


def refused(answer: Any) -> str:
    assert answer.status_code == 422, answer.content[:300]
    error = answer.json()["errors"][0]
    assert error["pointer"] == "#/content"
    return str(error["code"])


def workbook_with(parts: dict[str, bytes]) -> bytes:
    """The grid with parts of its archive replaced or added."""
    kept = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(grid_in_ounces())) as archive,
        zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as other,
    ):
        for name in archive.namelist():
            if name not in parts:
                other.writestr(name, archive.read(name))
        for name, content in parts.items():
            other.writestr(name, content)
    return kept.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'


def test_hostile_workbooks_are_refused_quickly_and_store_nothing() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    entity = (
        f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "14"><!ENTITY b "&a;&a;&a;">]><worksheet {MAIN}><sheetData>'
        '<row r="1"><c r="A1" t="str"><v>&b;</v></c></row></sheetData></worksheet>'
    ).encode()
    outside = (
        f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><worksheet {MAIN}><sheetData>'
        '<row r="1"><c r="A1" t="str"><v>&a;</v></c></row></sheetData></worksheet>'
    ).encode()
    far = f'<worksheet {MAIN}><sheetData><row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
    bomb = workbook_with({SHEET: b"<worksheet>" + b" " * (30 * 1024 * 1024)})
    assert len(bomb) < 100_000
    began = time.monotonic()
    assert refused(send(client, litter, bomb)) == "too_large"
    assert refused(send(client, litter, lying_about_size(bomb))) == "broken"
    styles = f"<styleSheet {MAIN}><cellXfs>{'<xf/>' * 200_000}</cellXfs></styleSheet>".encode()
    assert refused(send(client, litter, workbook_with({"xl/styles.xml": styles}))) == "too_large"
    cells = f"<worksheet {MAIN}><sheetData>{'<row><c><v>1</v></c></row>' * 50_000}</sheetData></worksheet>".encode()
    assert refused(send(client, litter, workbook_with({SHEET: cells}))) == "too_large"
    assert refused(send(client, litter, workbook_with({SHEET: entity}))) == "broken"
    assert refused(send(client, litter, workbook_with({SHEET: outside}))) == "broken"
    assert refused(send(client, litter, workbook_with({SHEET: far.encode()}))) == "not_understood"
    assert refused(send(client, litter, grid_in_ounces()[:900])) == "broken"
    assert refused(send(client, litter, b"PK\x03\x04" + b"\x00" * 200)) == "broken"
    assert refused(send(client, litter, b"\xd0\xcf\x11\xe0" + b"\x00" * 200, name="w.xls")) == "kind"
    assert time.monotonic() - began < 10
    assert stored(client) == []
    assert send(client, litter, workbook_with({})).json()["counts"]["added"] == 97


def lying_about_size(content: bytes) -> bytes:
    """The archive with a small unpacked size declared for its sheet, in the directory and before the part."""
    changed = bytearray(content)
    for signature, name_at, size_at in ((b"PK\x01\x02", 46, 24), (b"PK\x03\x04", 30, 22)):
        place = changed.find(signature)
        while place >= 0:
            if changed[place + name_at :].startswith(SHEET.encode()):
                changed[place + size_at : place + size_at + 4] = struct.pack("<I", 1000)
            place = changed.find(signature, place + 4)
    return bytes(changed)


def test_long_wide_and_broken_text_files_are_refused() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    long = b"Day,moss,rust\n" + b"1,400,410\n" * (weight_files.MOST_ROWS + 5)
    wide = b"Day," + b"moss," * (weight_files.MOST_COLUMNS + 5)
    for content, code in (
        (long, "too_large"),
        (wide, "too_large"),
        (b"\x00\x01\x02,3\n" * 5, "kind"),
        (b'a,"' + b"x" * 200_000, "broken"),
        (b"hello", "not_understood"),
    ):
        assert refused(send(client, litter, content, name="w.csv")) == code
    big = client.post(f"litters/{litter}/imports", {"content": "A" * (5 * 1024 * 1024)})
    assert (big.status_code, big.json()["type"]) == (413, "/problems/too-large")
    most = base64.b64encode(b"x" * weight_files.MOST_FILE_BYTES).decode()
    assert client.post(f"litters/{litter}/imports", {"content": most}).status_code == 422
    for text in ("not base64!", "¬", "d2VpZ2h0cw"):
        bad = client.post(f"litters/{litter}/imports", {"content": text})
        assert (bad.status_code, bad.json()["errors"][0]["code"]) == (422, "base64")


def test_a_litter_of_another_kennel_is_not_there_and_its_pups_are_not_found() -> None:
    ours, theirs = DeviceClient(make_kennel()), DeviceClient(make_kennel("Fenside"))
    litter, _ = make_litter(ours)
    make_litter(theirs, ("violet", "ochre"))
    text = b"Day,moss,violet\n0,400,410\n"
    foreign = theirs.post(
        f"litters/{litter}/imports", {"content": base64.b64encode(text).decode(), "unit": "g"}
    )
    assert foreign.status_code == 404
    crossing = DeviceClient(ours.place, token=theirs.token)
    assert send(crossing, litter, text, unit="g").status_code == 404
    lines = send(ours, litter, text, unit="g").json()["lines"]
    assert [(line["outcome"], (line["refusal"] or {}).get("code")) for line in lines] == [
        ("added", None),
        ("refused", "unknown_pup"),
    ]
    assert stored(theirs) == []


def test_readers_and_reading_tokens_may_not_import() -> None:
    place: Place = make_kennel()
    litter, _ = make_litter(DeviceClient(place))
    reader = DeviceClient(place, carer=add_member(place, Role.READER))
    token = DeviceClient(place, scopes=("read",))
    for client in (reader, token):
        assert send(client, litter, grid_in_ounces()).status_code == 403


def test_a_litter_without_pups_says_what_to_do_first() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client, ())
    assert refused(send(client, litter, grid_in_ounces())) == "no_pups"


def test_many_weights_are_written_in_slices_and_all_arrive() -> None:
    client = DeviceClient(make_kennel())
    litter, _ = make_litter(client)
    report = send(client, litter, grid_in_ounces(45)).json()
    assert report["counts"]["added"] == 45 * 7 - 1
    assert len(stored(client)) == 45 * 7 - 1
