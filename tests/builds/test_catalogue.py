"""Part types, packages and type sheets: their pages, and CSV in and out."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.forms.models import model_to_dict
from django.test import Client
from django.urls import reverse

import builds.demo
from builds.csv_files import Imported, decode
from builds.models import Package, PartType
from builds.services import catalogue, line_items, packages
from tests.factories import (
    BuildJobFactory,
    PartTypeFactory,
    TypeSheetFactory,
)
from workshop.models import TypeSheet

pytestmark = pytest.mark.django_db

DEMO = Path(builds.demo.__file__).parent
KINDS_THE_CATALOGUE_COVERS = [
    "front-bar",
    "sensor-bracket",
    "rear-bar",
    "winch",
    "driving-lamps",
    "light-bar-roof",
    "camp-lamps",
    "work-lamps",
    "snorkel",
    "uhf-radio",
    "antenna",
    "phone-repeater",
    "aux-battery",
    "dcdc-charger",
    "inverter",
    "shore-charger",
    "battery-monitor",
    "distribution-board",
    "solar-panel",
    "solar-inlet",
    "outlet",
    "fridge",
    "fridge-slide",
    "drawers",
    "drawer-lights",
    "roof-rack",
    "awning",
    "water-tank",
    "water-pump",
    "compressor",
    "air-outlet",
    "air-springs",
    "air-control",
    "powered-steps",
    "tow-bar",
    "trailer-wiring",
    "brake-controller",
    "towing-mirrors",
    "reversing-camera",
    "trailer-camera",
    "display-mount",
    "roof-console",
    "suspension-kit",
    "wheels-tyres",
    "long-range-tank",
    "canopy",
    "cargo-barrier",
    "spare-carrier",
    "underbody-protection",
]


def demo(name: str) -> str:
    return decode((DEMO / name).read_bytes())


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def csv_of(rows: list[dict[str, str]]) -> str:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def everything(model: type) -> list[dict[str, object]]:
    """What is stored, fields that no form edits too."""
    return [
        model_to_dict(row) | {"version": getattr(row, "version", None)}
        for row in model.objects.order_by("key")
    ]


def exported() -> str:
    """One part type as a file: line 1 the columns, line 2 the part."""
    PartTypeFactory(key="bracket", name="Bracket", steps=[], tests=[])
    return catalogue.export_part_types()


def faults_of(text: str, service=catalogue.import_part_types) -> list[str]:
    with pytest.raises(ValidationError) as refused:
        service(text=text)
    return refused.value.messages


# The demo's catalogue.


def test_the_demo_brings_at_least_ninety_part_types_of_every_kind_asked_for():
    done = catalogue.import_part_types(text=demo("part_types.csv"))
    parts = PartType.objects.all()

    assert done.added == len(parts) >= 90
    assert set(KINDS_THE_CATALOGUE_COVERS) - {p.kind for p in parts} == set()
    chemistries = {p.supply.get("chemistry") for p in parts if p.supply}
    assert {"lfp", "agm"} <= chemistries
    assert any(p.supply.get("solar_input_w") for p in parts)
    assert any("gvm_kg" in p.raises for p in parts)


def test_every_demo_part_answers_what_a_customer_asks():
    catalogue.import_part_types(text=demo("part_types.csv"))
    for part in PartType.objects.all():
        said = (part.name, part.maker, part.place_text, part.use_text, part.switch_kind)
        assert all(said), part.key
        assert part.mass_kg is not None, part.key
        assert part.mass_half_width_kg is not None, part.key
        assert part.price is not None, part.key
        assert part.steps, part.key
        assert part.tests, part.key
        if part.switch_kind == "own":
            assert part.switch_text, part.key
        if part.load_kind and not part.short_time:
            assert part.fuse_a, part.key


def test_every_demo_part_goes_on_a_build():
    catalogue.import_part_types(text=demo("part_types.csv"))
    build = BuildJobFactory()
    for part in PartType.objects.all():
        item = line_items.add_part(build=build, part=part, check=False)
        assert item.label == part.name


def test_demo_packages_are_made_of_known_parts():
    catalogue.import_part_types(text=demo("part_types.csv"))
    done = packages.import_packages(text=demo("packages.csv"))

    assert done.added == Package.objects.count() > 3
    assert all(package.parts.count() > 1 for package in Package.objects.all())


# CSV out and in again.


def test_part_types_out_and_in_again_change_nothing(office: Client):
    catalogue.import_part_types(text=demo("part_types.csv"))
    before = everything(PartType)
    first = office.get(reverse("catalogue-export"))
    done = catalogue.import_part_types(text=decode(first.content))

    assert (done.added, done.changed) == (0, 0)
    assert everything(PartType) == before
    assert catalogue.export_part_types().encode() == first.content
    assert first["Content-Disposition"] == 'attachment; filename="part_types.csv"'


def test_part_types_survive_the_loss_of_the_database():
    catalogue.import_part_types(text=demo("part_types.csv"))
    before, text = everything(PartType), catalogue.export_part_types()
    PartType.objects.all().delete()
    catalogue.import_part_types(text=text)

    def without_id(rows):
        return [{n: v for n, v in row.items() if n != "id"} for row in rows]

    assert without_id(everything(PartType)) == without_id(before)


def test_type_sheets_out_and_in_again_change_nothing():
    catalogue.import_type_sheets(text=demo("type_sheets.csv"))
    before = everything(TypeSheet)
    done = catalogue.import_type_sheets(text=catalogue.export_type_sheets())

    assert len(before) >= 6
    assert (done.added, done.changed) == (0, 0)
    assert everything(TypeSheet) == before


def test_a_changed_row_is_changed_and_a_page_opened_before_is_stale():
    [row] = rows_of(exported())
    done = catalogue.import_part_types(text=csv_of([row | {"price": "199"}]))
    part = PartType.objects.get()

    assert (done.added, done.changed) == (0, 1)
    assert (part.price, part.version) == (199, 2)


@pytest.mark.parametrize("name", ["=cmd|' /C calc'!A0", "+1", "-2+3", "@SUM(A1)"])
def test_no_cell_runs_in_a_spreadsheet_and_none_is_changed_by_that(name: str):
    PartTypeFactory(name=name, papers=[name], steps=[{"text": name.replace("|", "")}])
    text = catalogue.export_part_types()
    [row] = rows_of(text)
    catalogue.import_part_types(text=text)

    assert not any(
        row[c].startswith(tuple("=+-@")) for c in ("name", "papers", "steps")
    )
    assert PartType.objects.get().name == name


def test_any_script_and_line_breaks_survive():
    PartTypeFactory(
        name="กันชน, «φρένο» 🚙", use_text='Press "HI".\nThen wait.', steps=[], tests=[]
    )
    before = everything(PartType)
    catalogue.import_part_types(text=catalogue.export_part_types())

    assert everything(PartType) == before


def test_a_byte_order_mark_and_other_line_ends_are_no_matter():
    text = exported().replace("\r\n", "\n")

    assert catalogue.import_part_types(
        text=decode(b"\xef\xbb\xbf" + text.encode())
    ) == Imported(added=0, changed=0)


# Each kind of bad cell is named with its line and column.

BAD_CELLS = [
    ("mass_kg", "12,5", "use a point for decimals, such as 12.5."),
    ("mass_kg", "NaN", "“NaN” is not a number."),
    ("mass_kg", "Infinity", "“Infinity” is not a number."),
    ("mass_kg", "heavy", "“heavy” is not a number."),
    ("mass_kg", "12 kg", "“12 kg” is not a number."),
    ("mass_kg", "-1", "greater than or equal to 0"),
    ("mass_kg", "5001", "less than or equal to 5000"),
    ("mass_kg", "1.005", "no more than 2 decimal places"),
    ("mass_kg", "1e999999", "less than or equal to 5000"),
    ("dx_mm", "12.5", "“12.5” is not a whole number."),
    ("dx_mm", "1e99", "“1e99” is not a whole number."),
    ("dx_mm", "9001", "less than or equal to 9000"),
    ("zone", "boot", "'boot' is not a valid choice."),
    ("zone", "", "blank"),
    ("place_ref", "bumper", "'bumper' is not a valid choice."),
    ("switch_kind", "maybe", "'maybe' is not a valid choice."),
    ("fuse_kind", "glass", "'glass' is not a valid choice."),
    ("kind", "Front Bar", "Use small letters, figures and single hyphens."),
    ("key", "two words", "letters, numbers, underscores or hyphens"),
    ("key", "", "blank"),
    ("name", "n" * 101, "at most 100 characters"),
    ("short_time", "perhaps", "say yes or no."),
    ("duty", "1.5", "Enter a ratio from 0 to 1, or the word fridge."),
    ("mechanical_h", "-1", "hours lie between 0 and 500."),
    ("mechanical_h", "1,5", "use a point for decimals"),
    ("supply", "battery", "write name=value"),
    ("supply", "role=reactor", "start with role= one of battery"),
    ("supply", "role=panel; ways=6", "a panel has no ways."),
    ("supply", "role=battery; chemistry=lfp; capacity_ah=1e999", "beyond all reason"),
    ("supply", "role=battery; chemistry=lfp; capacity_ah=-5", "capacity_ah"),
    ("supply", "role=battery; chemistry=lead; capacity_ah=5", "chemistry"),
    ("supply", "role=battery; chemistry=lfp", "capacity_ah"),
    ("supply", "role=charger; kind=dc-dc", "out_a"),
    ("supply", "role=board; ways=many", "ways is a whole number"),
    ("supply", "role=panel; power_w=1; power_w=2", "power_w is there twice."),
    ("raises", "colour=+3", "colour is not a rating that can be raised."),
    ("raises", "gvm_kg=lots", "“lots” is not a number."),
    ("raises", "gvm_kg=1e6", "a rating is raised by 1 to 20000 kg."),
    ("steps", "Tighten | torque tight", "after | write torque 110 Nm"),
    ("steps", "Tighten | torque 99999 Nm", "between 0.1 and 2000 Nm"),
    ("steps", f"Tighten | torque {'9' * 400} Nm", "after | write torque"),
    ("tests", "Measure | reading V 15..11", "the wrong way round"),
    ("steps", "s" * 301, "a step has 1 to 300 characters."),
    ("price", "200001", "less than or equal to 200000"),
    ("warranty_months", "-1", "greater than or equal to 0"),
]


@pytest.mark.parametrize(("column", "cell", "sentence"), BAD_CELLS)
def test_a_bad_cell_is_named(column: str, cell: str, sentence: str):
    [row] = rows_of(exported())
    good = row | {"key": "another", "price": "9"}
    text = csv_of([good, row | {column: cell, "description": "two\nlines"}])
    found = faults_of(text)

    assert all(f.startswith(f"Line 3, column {column}: ") for f in found), found
    assert any(sentence in f for f in found), found
    assert PartType.objects.count() == 1  # all of a file goes in, or none of it


def test_lines_are_counted_as_an_editor_counts_them():
    [row] = rows_of(exported())
    tall = row | {"key": "tall", "description": "one\ntwo\nthree"}
    [fault] = faults_of(csv_of([tall, row | {"mass_kg": "x"}]))

    assert fault.startswith("Line 5, column mass_kg")


def test_every_fault_of_a_file_is_named_at_once():
    [row] = rows_of(exported())
    rows = [row | {"key": f"k{n}", "mass_kg": "x", "zone": "moon"} for n in range(3)]
    found = faults_of(csv_of(rows))

    assert [f.split(":")[0] for f in found] == [
        f"Line {n}, column mass_kg" for n in (2, 3, 4)
    ]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (
            lambda t: t.replace("key,name", "key,nom", 1),
            "Line 1, column nom: This column is not known here.",
        ),
        (
            lambda t: t.replace("key,name", "key,nom", 1),
            "Line 1, column name: This column is missing.",
        ),
        (
            lambda t: t.replace("key,name", "key,key,name", 1),
            "Line 1, column key: This column is there twice.",
        ),
        (lambda t: t + "a,b\r\n", "Line 3: There are 2 cells for"),
        (lambda t: t + '"open,quote', "The CSV is broken"),
        (lambda t: t.replace(",", ";"), "Line 1: Cells are divided by commas here."),
        (lambda t: "", "Line 1: The file is empty."),
        (lambda t: "\r\n\r\n", "Line 1: The file is empty."),
        (
            lambda t: t + t.splitlines()[1],
            "Line 3, column key: bracket is already on line 2.",
        ),
        (lambda t: t + "x" * 200_000, "The CSV is broken"),
    ],
    ids=[
        "unknown column",
        "missing column",
        "column twice",
        "too few cells",
        "open quote",
        "semicolons",
        "empty",
        "blank",
        "key twice",
        "endless cell",
    ],
)
def test_a_broken_table_is_named(change, fault: str):
    text = exported()
    found = faults_of(change(text))

    assert any(f.startswith(fault) or fault in f for f in found), found
    assert PartType.objects.count() == 1


def test_empty_lines_are_passed_over():
    assert (
        catalogue.import_part_types(
            text=exported() + "\r\n,,\r\n".replace(",,", "")
        ).added
        == 0
    )


@pytest.mark.parametrize(
    ("column", "cell", "sentence"),
    [
        ("seats", "driver", "write a seat as driver x=-1450 y=-380."),
        ("seats", "driver x=wide", "x and y are millimetres."),
        ("seats", "driver x=1\ndriver x=2", "the seat driver is there twice."),
        ("seats", "driver x=99999", "x and y are millimetres."),
        ("switch_positions", "dash-1 | dash", "write key | panel | where on it."),
        (
            "switch_positions",
            "a | b | c\na | d | e",
            "the switch place a is there twice.",
        ),
        ("switch_positions", "two words | dash | top", "a key has letters, figures"),
        ("gvm_kg", "3,2", "use a point for decimals"),
        ("body_type", "boat", "'boat' is not a valid choice."),
        ("alternator_variable", "maybe", "say yes or no."),
        ("maker", "", "blank"),
        ("fuel_tank_x_mm", "1900", "ahead of the front end"),
        ("seats", "driver x=1450", "ahead of the front end"),
        ("base_mass_kg", "2300", "Front and rear make 2120 kg, +180 kg"),
    ],
)
def test_a_bad_cell_of_a_type_sheet_is_named(column: str, cell: str, sentence: str):
    TypeSheetFactory(key="dual")
    [row] = rows_of(catalogue.export_type_sheets())
    [fault] = faults_of(
        csv_of([row | {"key": "other", column: cell}]), catalogue.import_type_sheets
    )

    assert fault.startswith(f"Line 2, column {column}: ")
    assert sentence in fault
    assert TypeSheet.objects.count() == 1


def test_an_empty_cell_is_not_known_never_zero():
    TypeSheetFactory(key="dual")
    [row] = rows_of(catalogue.export_type_sheets())
    catalogue.import_type_sheets(text=csv_of([row | {"roof_kg": ""}]))

    assert TypeSheet.objects.get().roof_kg is None


# Files of the wrong kind.


def upload(client: Client, content: bytes, url: str = "catalogue-import"):
    file = SimpleUploadedFile("parts.csv", content, content_type="text/csv")
    return client.post(reverse(url), {"file": file})


@pytest.mark.parametrize("url", ["catalogue-import", "type-sheets-import"])
@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"PK\x03\x04" + b"\x14" * 60, "This is not a CSV file."),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "This is not a CSV file."),
        ("key,name\nbügel,x".encode("latin-1"), "Line 2: This is not UTF-8 text."),
        ("key,name\n".encode("utf-16"), "This is not a CSV file."),
        (b"", "The submitted file is empty."),
        (b"\n\n", "The file is empty."),
        (b"a" * (2 * 1024 * 1024 + 1), "This file is over 2 MB"),
        (b"%PDF-1.7 <b>x</b>", "This column is not known here."),
    ],
    ids=["xlsx", "png", "latin-1", "utf-16", "empty", "blank", "too-big", "pdf"],
)
def test_a_file_of_the_wrong_kind_is_refused_in_words(
    office: Client, url: str, content: bytes, sentence: str
):
    response = upload(office, content, url)
    page = response.content.decode()

    assert response.status_code == 422
    assert sentence in page
    assert "<b>x</b>" not in page
    assert not PartType.objects.exists()


def test_no_file_at_all_is_said(office: Client):
    response = office.post(reverse("catalogue-import"))

    assert response.status_code == 422
    assert "Choose a file." in response.content.decode()


def test_an_upload_says_what_it_did(office: Client):
    [row] = rows_of(exported())
    text = csv_of([row | {"price": "7"}, row | {"key": "new-one"}])
    response = upload(office, text.encode())

    assert response.url == reverse("catalogue")
    assert "1 added, 1 changed." in office.get(response.url).content.decode()


def test_a_refused_upload_lists_its_faults_on_the_page(office: Client):
    [row] = rows_of(exported())
    page = upload(office, csv_of([row | {"mass_kg": "1,5"}]).encode()).content.decode()

    assert "Nothing was brought in." in page
    assert "Line 2, column mass_kg: “1,5”: use a point" in page


def test_of_very_many_faults_the_first_are_shown_and_the_rest_counted():
    [row] = rows_of(exported())
    rows = [row | {"key": f"k{n}", "mass_kg": "x"} for n in range(250)]
    found = faults_of(csv_of(rows))

    assert found[199].startswith("Line 201, column mass_kg")
    assert found[200:] == ["50 more of them further down."]


# Looked at before it is brought in.


def look(client: Client, content: bytes, url: str = "catalogue-import"):
    file = SimpleUploadedFile("parts.csv", content, content_type="text/csv")
    return client.post(reverse(url), {"file": file, "do": "look"})


def test_a_file_is_shown_before_anything_is_stored(office: Client):
    [row] = rows_of(exported())
    changed = row | {"price": "199", "use_text": "Two\nlines <b>."}
    text = csv_of([changed, row | {"key": "new-one", "name": "New one"}])
    before = everything(PartType)
    response = look(office, text.encode())
    page = response.content.decode()

    assert response.status_code == 200
    assert "This file adds 1 and changes 1" in page
    assert re.search(r"price\s+<span class=\"struck\">150</span> → 199", page)
    assert "New one, new" in page
    assert "lines <b>" not in page
    assert everything(PartType) == before


def test_a_long_text_is_shown_from_where_it_changes(office: Client):
    [row] = rows_of(exported())
    start = "Tighten the clamps in turn, a little each time, never one alone. "
    PartType.objects.update(care_text=f"{start}Then paint.")
    text = csv_of([row | {"care_text": f"{start}Then wax."}])
    page = look(office, text.encode()).content.decode()

    assert "paint.</span> → …" in page
    assert "Then wax." in page
    assert "Tighten the clamps" not in page


def test_what_was_looked_at_is_brought_in_byte_for_byte(office: Client):
    [row] = rows_of(exported())
    text = csv_of([row | {"use_text": 'One\r\ntwo\nthree, "กันชน".'}])
    page = look(office, text.encode()).content.decode()
    kept = page.split('name="kept" value="')[1].split('"')[0]
    response = office.post(reverse("catalogue-import"), {"kept": kept})

    assert response.url == reverse("catalogue")
    assert PartType.objects.get().use_text == 'One\r\ntwo\nthree, "กันชน".'


def test_a_bad_file_is_named_when_looked_at(office: Client):
    [row] = rows_of(exported())
    response = look(office, csv_of([row | {"mass_kg": "1,5"}]).encode())

    assert response.status_code == 422
    assert "Line 2, column mass_kg" in response.content.decode()


def test_a_file_that_changes_nothing_offers_nothing(office: Client):
    page = look(office, exported().encode()).content.decode()

    assert "This file adds 0 and changes 0" in page
    assert "Bring this in" not in page


def test_type_sheets_are_shown_first_too(office: Client):
    TypeSheetFactory(key="dual")
    [row] = rows_of(catalogue.export_type_sheets())
    text = csv_of([row | {"gvm_kg": "3300"}])
    page = look(office, text.encode(), "type-sheets-import").content.decode()

    assert re.search(r"gvm_kg\s+<span class=\"struck\">3200</span> → 3300", page)
    assert TypeSheet.objects.get().gvm_kg == 3200


@pytest.mark.parametrize("kept", ["no base64!", "\x00", "aGk", "A" * 3_000_000])
def test_a_kept_file_that_was_tampered_with_is_refused(office: Client, kept: str):
    response = office.post(reverse("catalogue-import"), {"kept": kept})

    assert response.status_code == 422
    assert not PartType.objects.exists()


# The pages.


def form_of(client: Client, url: str) -> dict[str, object]:
    form = client.get(url).context["form"]
    values = {bound.name: bound.value() for bound in form}
    return {n: v for n, v in values.items() if v is not None and v is not False}


def test_a_part_type_saved_without_a_change_is_the_same(office: Client):
    catalogue.import_part_types(text=demo("part_types.csv"))
    for key in (
        "fridge-45",
        "dcdc-charger-40",
        "suspension-gvm-300",
        "winch-9500-rope",
        "aux-battery-lfp-60",
        "solar-panel-200",
        "fuse-board-rear-12",
        "roof-rack-cab",
    ):
        part = PartType.objects.get(key=key)
        before = model_to_dict(part)
        url = reverse("part-type-edit", args=[key])
        response = office.post(url, form_of(office, url))
        part.refresh_from_db()

        assert response.url == part.get_absolute_url()
        assert model_to_dict(part) == before
        assert part.version == 2


NEW = {
    "key": "lamp-bracket",
    "name": "Lamp bracket",
    "kind": "bracket",
    "zone": "front",
    "place_ref": "front-end",
    "dx_mm": "-40",
    "mass_kg": "1.25",
    "switch_kind": "none",
    "electrical_h": "0.5",
    "steps_text": "Bolt it on | torque 25 Nm\nCheck | hold",
    "tests_text": "Lamp plug | reading V 11.9..14.8",
    "papers_text": "ADR note; Fitting sheet",
    "price": "49.90",
    "active": "on",
}


def test_a_new_part_type_is_saved_and_shown(office: Client):
    response = office.post(reverse("part-type-new"), NEW)
    part = PartType.objects.get(key="lamp-bracket")
    page = office.get(response.url).content.decode()

    assert part.mass_kg == Decimal("1.25")
    assert part.labour == {"electrical": 0.5}
    assert part.steps[0] == {"text": "Bolt it on", "torque_nm": 25.0}
    assert part.papers == ["ADR note", "Fitting sheet"]
    assert all(
        text in page for text in ("Lamp bracket", "1.25 kg", "49.90", "ADR note")
    )


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("mass_kg", "1,5", "Use a point for decimals: 1.5"),
        ("mass_kg", "-1", "greater than or equal to 0"),
        ("key", "bracket", "already exists"),
        ("key", "two words", "letters, numbers"),
        ("kind", "Front Bar", "Use small letters"),
        ("zone", "moon", "valid choice"),
        ("supply_role", "reactor", "valid choice"),
        ("battery_capacity_ah", "1e400", "without an exponent"),
        ("raise_gvm_kg", "20001", "less than or equal to 20000"),
        ("carrier_limit_kg", "75 kg", "the unit is kg"),
        ("steps_text", "Tighten | 5", "after | write torque 110 Nm"),
        ("mechanical_h", "501", "less than or equal to 500"),
        ("dx_mm", "1.5", "Enter a whole number."),
    ],
)
def test_a_part_type_that_cannot_be_is_refused_at_its_field(
    office: Client, field: str, value: str, sentence: str
):
    PartTypeFactory(key="bracket")
    response = office.post(reverse("part-type-new"), NEW | {field: value})
    page = response.content.decode()

    assert response.status_code == 422
    assert sentence in page[page.index(f'id="id_{field}_error"') :].split("</ul>")[0]
    assert "Lamp bracket" in page
    assert PartType.objects.count() == 1


def test_a_stale_part_type_overwrites_nothing(office: Client):
    part = PartTypeFactory(name="Bracket")
    url = reverse("part-type-edit", args=[part.key])
    old = form_of(office, url)
    office.post(url, old | {"price": "10"})
    response = office.post(url, old | {"price": "20.25"})
    part.refresh_from_db()

    assert response.status_code == 409, response.context["form"].errors
    assert 'value="20.25"' in response.content.decode()
    assert part.price == 10


def test_the_key_of_a_part_type_stays(office: Client):
    part = PartTypeFactory(key="bracket")
    url = reverse("part-type-edit", args=[part.key])
    office.post(url, form_of(office, url) | {"key": "other"})

    assert PartType.objects.get().key == "bracket"


def test_the_list_is_narrowed_by_words_and_zone(office: Client):
    PartTypeFactory(name="Front hoop", zone="front")
    PartTypeFactory(name="Rear hoop", zone="rear")
    page = office.get(reverse("catalogue"), {"q": "hoop", "zone": "rear"})

    assert [p.name for p in page.context["parts"]] == ["Rear hoop"]


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"kind": "winch"}, {"Rope winch"}),
        ({"q": "marravale hoop"}, {"Front hoop"}),
        ({"kind": "no-such-kind"}, {"Rope winch", "Front hoop"}),
        ({"kind": "winch", "zone": "rear"}, set()),
    ],
)
def test_the_list_is_narrowed_by_kind_and_maker(office: Client, asked, found):
    PartTypeFactory(name="Rope winch", kind="winch", zone="front", maker="Ostwell")
    PartTypeFactory(name="Front hoop", kind="front-bar", zone="front")
    page = office.get(reverse("catalogue"), asked)

    assert {p.name for p in page.context["parts"]} == found
    assert '<option value="winch"' in page.content.decode()


def test_a_part_type_shows_everything_it_brings(office: Client):
    part = PartTypeFactory(
        fridge=True,
        dy_mm=410,
        standby_a=Decimal("0.02"),
        efficiency=Decimal("0.9"),
        removes_label="Side trim",
        removes_mass_kg=2,
        removes_dx_mm=-150,
        warranty_months=36,
        active=False,
    )
    page = office.get(part.get_absolute_url()).content.decode()

    for text in ("410 mm left", "600 mm above the ground", "0.02 A", "3 %"):
        assert text in page
    for text in ("efficiency 0.9", "−150 mm from", "36 months", "not for new builds"):
        assert text in page


def test_what_a_part_type_does_not_say_is_not_made_up(office: Client):
    part = PartTypeFactory(
        mass_kg=None, mass_half_width_kg=None, mass_source="", price=None
    )
    page = office.get(part.get_absolute_url()).content.decode()

    assert "<dt>Mass</dt><dd>not known</dd>" in page
    assert "<dt>Price</dt><dd>not set</dd>" in page
    assert "None" not in page.split("<main")[1].replace("None.", "")
