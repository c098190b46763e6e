"""The two what-if doors in a real browser: the effect while typing, variants beside."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from builds.demo import scenario
from builds.models import BuildJob, LineItem
from workshop.models import Person

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def build(transactional_db: None) -> BuildJob:
    scenario.load()
    return BuildJob.objects.get(title="River survey ute")


def fits(page: Page) -> bool:
    return bool(
        page.evaluate(
            "() => document.documentElement.scrollWidth"
            " <= document.documentElement.clientWidth"
        )
    )


def test_every_number_moves_while_a_mass_is_typed(build: BuildJob, open_page):
    page: Page = open_page(Person.objects.get(username="june"))
    item = build.items.get(kind="water-tank")
    page.goto(f"/builds/{build.pk}/items/{item.pk}/")
    strip = page.locator("#ledger")
    before = strip.inner_text()

    page.fill("[name=mass_kg]", "44.6")
    page.locator("[name=mass_kg]").blur()

    effect = page.locator("#effect")
    expect(effect.locator("caption")).to_contain_text("Nothing is saved yet")
    expect(strip).to_contain_text("→")
    total = effect.get_by_role("row", name=re.compile("^Vehicle mass")).first
    expect(total).to_contain_text("+40")
    for title in ("As the customer uses it", "Each limit at its worst"):
        expect(effect.get_by_role("rowheader", name=title)).to_be_attached()
    each = effect.get_by_role("row", name=re.compile("on the rear axle"))
    expect(each).to_contain_text(item.label)
    # The long list scrolls within its own frame: Save stays within reach.
    assert effect.locator(".effect__numbers").bounding_box()["height"] <= 680

    page.fill("[name=mass_kg]", str(item.mass_kg))
    page.locator("[name=mass_kg]").blur()
    expect(effect).to_contain_text("No other number moves.")
    expect(strip).not_to_contain_text("→")
    assert strip.inner_text() == before
    assert LineItem.objects.get(pk=item.pk).version == item.version


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (1024, 768), (390, 844)])
def test_a_variant_is_tried_compared_and_taken(
    build: BuildJob, open_page, width: int, height: int
):
    page: Page = open_page(Person.objects.get(username="june"), width, height)
    page.goto(f"/builds/{build.pk}/")
    page.get_by_role("button", name="Try a variant").click()
    expect(page.locator("h1")).to_have_text("River survey ute, variant B")
    variant = BuildJob.objects.get(variant_of=build)
    fridge = variant.items.get(kind="fridge")
    page.goto(f"/builds/{variant.pk}/items/{fridge.pk}/remove/")
    page.get_by_role("button", name="Take it off").click()

    page.locator("#variants").get_by_role("link", name="Compare").click()
    expect(page.locator("h1")).to_have_text(f"{variant.number} beside {build.number}")
    page.get_by_role("link", name="The other way round").click()
    expect(page.locator("h1")).to_have_text(f"{build.number} beside {variant.number}")
    expect(page.locator("main")).to_contain_text(
        re.compile(r"B better: \d+ kg more in hand")
    )
    expect(page.locator("main")).to_contain_text(fridge.label)
    assert fits(page)

    page.get_by_role(
        "button", name=re.compile(f"Take this one.*{variant.number}")
    ).click()
    expect(page.locator("main")).to_contain_text("is the one that goes on")
    assert fits(page)
    page.goto(f"/builds/{build.pk}/variants/")
    expect(page.locator("#aside")).to_contain_text("was taken instead")
    assert fits(page)
    page.get_by_role("button", name="Take it up again").click()
    expect(page.locator("main")).to_contain_text("is taken up again")
