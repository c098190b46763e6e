"""Packages: put together, changed, taken away, and CSV in and out."""

from __future__ import annotations

import csv
import io
import re

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from builds.csv_files import Imported
from builds.models import Package, PartType
from builds.services import line_items, packages
from tests.factories import BuildJobFactory, PackageFactory, PartTypeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray(db: None) -> PartType:
    return PartTypeFactory(key="tray", name="Battery tray", mass_kg=4, price=80)


@pytest.fixture
def bar(db: None) -> PartType:
    return PartTypeFactory(key="bar", name="Front hoop", mass_kg=60, price=None)


def typed(*rows: tuple[str, str], **more: str) -> dict[str, str]:
    """What a browser sends: the package, then its rows and some empty ones."""
    sent = {"key": "dual-battery", "name": "Dual battery", "description": "Two."}
    listed = [*rows, ("", "1"), ("", "1")]
    sent |= {"rows-TOTAL_FORMS": str(len(listed)), "rows-INITIAL_FORMS": "0"}
    for n, (part, quantity) in enumerate(listed):
        sent |= {f"rows-{n}-part": part, f"rows-{n}-quantity": quantity}
    return sent | more


def edit_url(package: Package) -> str:
    return reverse("package-edit", args=[package.key])


def held(package: Package) -> list[tuple[str, int]]:
    return [(r.part.key, r.quantity) for r in package.parts.select_related("part")]


def at_field(page: str, field: str) -> str:
    return page[page.index(f'id="id_{field}_error"') :].split("</ul>")[0]


def test_a_new_package_is_saved_shown_and_goes_on_a_build(office: Client, tray, bar):
    sent = typed(("tray", "2"), ("bar", "1"))
    response = office.post(reverse("package-new"), sent)
    package = Package.objects.get()
    page = office.get(response.url).content.decode()

    assert response.url == package.get_absolute_url()
    assert held(package) == [("tray", 2), ("bar", 1)]
    assert "Battery tray" in page
    assert "1 without a price" in page
    items = line_items.add_package(build=BuildJobFactory(), package=package)
    assert [(i.label, i.quantity) for i in items] == [
        ("Battery tray", 2),
        ("Front hoop", 1),
    ]


def test_what_a_package_brings_is_added_up(tray, bar):
    package = packages.add_package(key="p", name="P", rows=[(tray, 2), (bar, 1)])
    found = packages.what_it_brings(package)

    assert (found.mass_kg, found.price) == (68, 160)
    assert found.labour_h == 4.5
    assert (found.unweighed, found.unpriced) == (0, 1)


@pytest.mark.parametrize(
    ("rows", "more", "field", "sentence"),
    [
        ([("tray", "0")], {}, "rows-0-quantity", "greater than or equal to 1"),
        ([("tray", "51")], {}, "rows-0-quantity", "less than or equal to 50"),
        ([("tray", "1,5")], {}, "rows-0-quantity", "Use a point for decimals"),
        ([("tray", "two")], {}, "rows-0-quantity", "Enter a whole number."),
        ([("tray", "")], {}, "rows-0-quantity", "Say how many."),
        ([("nothing", "1")], {}, "rows-0-part", "not one of the available choices"),
        ([("\x00", "1")], {}, "rows-0-part", "Null characters are not allowed."),
        ([("tray", "1"), ("tray", "1")], {}, "rows-1-part", "chosen twice"),
        ([("tray", "1")], {"name": ""}, "name", "This field is required."),
        ([("tray", "1")], {"name": "n" * 101}, "name", "at most 100 characters"),
        ([("tray", "1")], {"key": "two words"}, "key", "letters, numbers"),
        ([("tray", "1")], {"key": "taken"}, "key", "already exists"),
        ([("tray", "1")], {"description": "d" * 1001}, "description", "at most 1000"),
    ],
)
def test_a_package_that_cannot_be_is_refused_at_its_field(
    office: Client, tray, rows, more, field: str, sentence: str
):
    PackageFactory(key="taken", parts=[tray])
    sent = {"description": "typed and kept"} | more
    response = office.post(reverse("package-new"), typed(*rows, **sent))
    page = response.content.decode()

    assert response.status_code == 422
    assert sentence in at_field(page, field)
    assert field == "description" or "typed and kept" in page
    assert Package.objects.count() == 1


@pytest.mark.parametrize("name", ["packages", "package-new", "type-sheets"])
def test_the_nav_says_where_one_is(office: Client, name: str):
    page = office.get(reverse(name)).content.decode()
    entry = "vehicles" if name == "type-sheets" else "catalogue"

    assert re.search(rf'href="{reverse(entry)}"[^>]*aria-current="page"', page)


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        (typed(), "Choose at least one part."),
        ({"key": "k", "name": "n"}, "Reload the page and try again."),
        (typed() | {"rows-TOTAL_FORMS": "999999999"}, "Please submit at most 60"),
    ],
)
def test_rows_that_are_no_rows_are_answered(office: Client, sent, sentence: str):
    response = office.post(reverse("package-new"), sent)

    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Package.objects.exists()


def test_a_package_is_changed_and_its_key_stays(office: Client, tray, bar):
    package = PackageFactory(key="set", name="Old", parts=[tray])
    sent = typed(("", "1"), ("bar", "3"), key="other", name="New", version="1")
    response = office.post(edit_url(package), sent)
    package.refresh_from_db()

    assert response.url == package.get_absolute_url()
    assert (package.key, package.name, package.version) == ("set", "New", 2)
    assert held(package) == [("bar", 3)]


def test_a_stale_package_overwrites_nothing_and_keeps_what_was_typed(
    office: Client, tray, bar
):
    package = PackageFactory(key="set", name="Set", parts=[tray])
    office.post(edit_url(package), typed(("tray", "2"), version="1"))
    old = typed(("bar", "7"), version="1", name="Typed on the old page")
    response = office.post(edit_url(package), old)
    page = response.content.decode()

    assert response.status_code == 409
    assert "Typed on the old page" in page
    assert 'value="7"' in page
    assert held(package) == [("tray", 2)]
    assert office.post(edit_url(package), old | {"version": "2"}).status_code == 302
    assert held(package) == [("bar", 7)]


def test_a_part_no_longer_offered_stays_in_its_package_and_is_not_offered_anew(
    office: Client, tray, bar
):
    package = PackageFactory(parts=[tray])
    PartType.objects.update(active=False)
    page = office.get(edit_url(package)).content.decode()

    assert '<option value="tray" selected>' in page
    assert 'value="bar"' not in page


def test_the_rows_ask_for_the_catalogue_once(office: Client):
    small = PackageFactory(parts=[PartTypeFactory() for _ in range(2)])
    large = PackageFactory(parts=[PartTypeFactory() for _ in range(12)])

    def asked(package: Package) -> int:
        with CaptureQueriesContext(connection) as seen:
            office.get(edit_url(package))
        return len(seen)

    assert asked(small) == asked(large)


def test_a_package_is_removed_and_its_parts_stay(office: Client, tray):
    package = PackageFactory(name="Set", parts=[tray])
    response = office.post(reverse("package-remove", args=[package.key]))

    assert "Set is removed" in office.get(response.url).content.decode()
    assert not Package.objects.exists()
    assert PartType.objects.get() == tray


def test_packages_are_listed_with_their_parts(office: Client, tray):
    PackageFactory(name="<i>Dual", parts=[tray])
    page = office.get(reverse("packages")).content.decode()

    assert "&lt;i&gt;Dual" in page
    assert "Battery tray" in page


# CSV.


def csv_of(*rows: tuple[str, ...]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out).writerows([packages.COLUMNS, *rows])
    return out.getvalue()


def test_packages_out_and_in_again_change_nothing(office: Client, tray, bar):
    packages.add_package(
        key="set", name="=SUM(A1)", description="A,\n“b”", rows=[(bar, 2), (tray, 1)]
    )
    text = office.get(reverse("packages-export")).content.decode()

    assert packages.import_packages(text=text) == Imported(added=0, changed=0)
    assert ",=" not in text
    Package.objects.all().delete()
    assert packages.import_packages(text=text) == Imported(added=1, changed=0)
    package = Package.objects.get()
    assert (package.name, package.description) == ("=SUM(A1)", "A,\n“b”")
    assert held(package) == [("bar", 2), ("tray", 1)]
    assert packages.export_packages() == text


def test_a_changed_package_is_changed_and_a_page_opened_before_is_stale(tray, bar):
    package = PackageFactory(key="set", name="Set", parts=[tray])
    text = csv_of(("set", "Set", "", "tray", "1"), ("set", "Set", "", "bar", ""))

    assert packages.import_packages(text=text) == Imported(added=0, changed=1)
    package.refresh_from_db()
    assert package.version == 2
    assert held(package) == [("tray", 1), ("bar", 1)]


GOOD = ("set", "Set", "", "tray", "3")


@pytest.mark.parametrize(
    ("row", "fault"),
    [
        (("set", "Set", "", "no", "1"), "part_key: there is no part type no."),
        (("set", "Set", "", "tray", "1"), "part_key: tray is in this package already."),
        (("set", "Set", "", "bar", "0"), "quantity: Ensure this value is greater"),
        (("set", "Set", "", "bar", "51"), "quantity: Ensure this value is less"),
        (("set", "Set", "", "bar", "two"), "quantity: “two” is not a number."),
        (("set", "Set", "", "bar", "1,5"), "quantity: “1,5”: use a point"),
        (("set", "Sets", "", "bar", "1"), "package_name: set says something else"),
        (("set", "Set", "x", "bar", "1"), "description: set says something else"),
        (("two words", "Set", "", "bar", "1"), "package_key: Enter a valid"),
        (("", "Set", "", "bar", "1"), "package_key: This field cannot be blank."),
        (("new", "", "", "bar", "1"), "package_name: This field cannot be blank."),
        (("new", "n" * 101, "", "bar", "1"), "package_name: Ensure this value has"),
    ],
)
def test_a_bad_row_is_named_and_all_stays_as_it_was(row, fault: str, tray, bar):
    package = PackageFactory(key="set", name="Old", parts=[tray])
    with pytest.raises(ValidationError) as refused:
        packages.import_packages(text=csv_of(GOOD, row))

    assert refused.value.messages[0].startswith(f"Line 3, column {fault}")
    assert (Package.objects.get().name, held(package)) == ("Old", [("tray", 1)])


def test_a_file_is_shown_before_it_is_brought_in(office: Client, tray, bar):
    package = PackageFactory(key="set", name="Old", parts=[tray])
    text = csv_of(GOOD, ("new", "New set", "", "bar", "1"))

    def send(do: str):
        file = SimpleUploadedFile("packages.csv", text.encode())
        return office.post(reverse("packages-import"), {"file": file, "do": do})

    page = send("look").content.decode()
    assert "This file adds 1 and changes 1" in page
    assert "3 tray" in page
    assert held(package) == [("tray", 1)]

    assert send("bring").url == reverse("packages")
    assert held(package) == [("tray", 3)]
    assert Package.objects.count() == 2
