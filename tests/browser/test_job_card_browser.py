"""The job card in a real browser: nothing lost, nothing doubled, nothing moved."""

from __future__ import annotations

import json

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, Route, expect

from builds.models import TaskEvent
from tests.builds.cards import SmallCard, make_card, make_person
from workshop.models import Role

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

EVENTS = "**/job-card/events/"
TABLET = {"width": 1024, "height": 768}


@pytest.fixture
def card(transactional_db: None) -> SmallCard:
    return make_card(with_item=True)


@pytest.fixture
def tablet(card, open_page):
    """Open the card on a tablet of its own, signed in as a person."""

    def opener(person, **size) -> Page:
        page = open_page(person, **(TABLET | size))
        page.goto(reverse("job-card", args=[card.build.pk]))
        return page

    return opener


def tick(page: Page, step):
    return page.locator(f"#tick-{step.pk}")


def outbox(page: Page):
    return page.locator("#outbox")


def kept(page: Page) -> int:
    return page.evaluate(
        "() => Object.keys(localStorage).filter(k => k.startsWith('card-entry:')).length"
    )


def test_two_fitters_see_each_others_ticks(card, tablet):
    tavi, rosa = tablet(card.tavi), tablet(card.rosa)
    tick(tavi, card.step).click()
    expect(tick(rosa, card.step)).to_have_attribute(
        "aria-pressed", "true", timeout=12_000
    )
    expect(rosa.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    expect(rosa.locator("#card-news")).to_contain_text("Front bar: 1 of 3 steps done")
    tick(rosa, card.other_step).click()
    expect(tick(tavi, card.other_step)).to_have_attribute(
        "aria-pressed", "true", timeout=12_000
    )
    assert TaskEvent.objects.count() == 2


def test_a_tick_shows_at_once_and_says_that_it_waits(card, tablet):
    page = tablet(card.tavi)
    page.context.set_offline(True)
    tick(page, card.step).click()
    expect(tick(page, card.step)).to_have_attribute("aria-pressed", "true")
    expect(page.locator(f"#wait-{card.step.pk}")).to_be_visible()
    expect(outbox(page)).to_contain_text("1 waiting to be sent. No connection.")
    assert not TaskEvent.objects.exists()
    page.context.set_offline(False)
    expect(outbox(page)).to_be_hidden()
    expect(page.locator(f"#wait-{card.step.pk}")).to_be_hidden()
    assert TaskEvent.objects.get().step_id == card.step.pk
    assert kept(page) == 0


def test_a_lost_answer_is_asked_for_again_and_counts_once(card, tablet):
    page = tablet(card.tavi)
    statuses: list[int] = []

    def lose_the_first_answer(route: Route) -> None:
        response = route.fetch()
        statuses.append(response.status)
        if len(statuses) == 1:
            route.abort()
        else:
            route.fulfill(response=response)

    page.route(EVENTS, lose_the_first_answer)
    tick(page, card.step).click()
    expect(outbox(page)).to_contain_text("1 waiting to be sent.")
    assert kept(page) == 1
    expect(outbox(page)).to_be_hidden(timeout=12_000)
    assert statuses == [200, 200]
    assert TaskEvent.objects.count() == 1
    assert kept(page) == 0


def test_a_batch_that_arrives_twice_counts_once(card, tablet):
    page = tablet(card.tavi)
    outcomes: list[str] = []

    def send_twice(route: Route) -> None:
        route.fetch()
        response = route.fetch()
        outcomes.extend(r["outcome"] for r in response.json()["results"])
        route.fulfill(response=response)

    page.route(EVENTS, send_twice)
    tick(page, card.step).click()
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    assert outcomes == ["duplicate"]
    assert TaskEvent.objects.count() == 1


def test_a_bouncing_thumb_ticks_once(card, tablet):
    page = tablet(card.tavi)
    tick(page, card.step).dblclick()
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    assert [e.kind for e in TaskEvent.objects.all()] == ["tick"]


def test_what_is_refused_is_shown_until_dismissed(card, tablet):
    page = tablet(card.tavi)
    tick(page, card.step).click()
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    tick(page, card.hold).click()
    shown = page.locator("#refused")
    expect(shown).to_contain_text("A second person checks this")
    expect(shown).to_contain_text("Second person checks the mounts")
    expect(tick(page, card.hold)).to_have_attribute("aria-pressed", "false")
    page.reload()
    expect(shown).to_contain_text("A second person checks this")
    shown.get_by_role("button", name="Dismiss").click()
    expect(shown).to_be_empty()
    assert kept(page) == 0
    assert TaskEvent.objects.count() == 1


def test_an_ended_session_keeps_the_tick_until_that_person_signs_in(
    card, tablet, open_page
):
    page = tablet(card.tavi)
    page.context.clear_cookies()
    tick(page, card.step).click()
    expect(outbox(page)).to_contain_text("Sign in to send.")
    assert not TaskEvent.objects.exists()

    def sign_in(person):
        person.set_password("plain-river-2291")
        person.save()
        page.fill("[name=username]", person.username)
        page.fill("[name=password]", "plain-river-2291")
        page.click("main button")
        page.wait_for_url("**/job-card/")

    outbox(page).get_by_role("link", name="Sign in").click()
    sign_in(card.rosa)
    expect(outbox(page)).to_contain_text(f"1 by {card.tavi.name} wait")
    assert not TaskEvent.objects.exists()
    page.get_by_role("button", name="Sign out").click()
    page.goto(f"{reverse('sign-in')}?next={reverse('job-card', args=[card.build.pk])}")
    sign_in(card.tavi)
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    assert TaskEvent.objects.get().by == card.tavi


def test_a_lost_token_is_fetched_again(card, tablet):
    page = tablet(card.tavi)
    page.context.clear_cookies(name="csrftoken")
    tick(page, card.step).click()
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    assert TaskEvent.objects.count() == 1


def test_an_entry_the_server_cannot_read_does_not_hold_up_the_others(card, tablet):
    page = tablet(card.tavi)
    spoilt = {
        "order": 0,
        "url": reverse("job-card-events", args=[card.build.pk]),
        "what": "Tick, spoilt",
        "name": card.tavi.name,
        "event": {"event_id": "not an id", "task": "1", "kind": "tick"},
    }
    page.evaluate(
        "([key, value]) => localStorage.setItem(key, value)",
        [f"card-entry:{card.tavi.pk}:spoilt", json.dumps(spoilt)],
    )
    tick(page, card.step).click()
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    expect(page.locator("#refused")).to_contain_text("Tick, spoilt")


def test_readings_notes_faults_serial_and_the_clock(card, tablet):
    page = tablet(card.tavi)
    task = page.locator(f"#task-{card.task.pk}")
    field = page.locator(f"#value-{card.reading.pk}")
    field.fill("12,4")
    field.press("Enter")
    expect(page.locator(f"#value-error-{card.reading.pk}")).to_contain_text(
        "Use a point for decimals: 12.4"
    )
    expect(field).to_have_value("12,4")
    field.fill("9.5")
    field.press("Enter")
    expect(page.locator(f"#said-{card.reading.pk}")).to_contain_text(
        "outside its limits"
    )
    task.locator("summary", has_text="Fault found").click()
    page.fill(f"#fault-text-{card.task.pk}", "Earth strap loose.")
    task.get_by_role("button", name="Report fault").click()
    expect(task).to_contain_text("Fault open: Earth strap loose.")
    task.get_by_role("button", name="Cleared").click()
    expect(task).to_contain_text("Fault cleared: Earth strap loose.")
    task.locator("summary", has_text="Serial number").click()
    page.fill(f"#serial-{card.task.pk}", "QX-4471")
    task.get_by_role("button", name="Keep number").click()
    expect(task).to_contain_text("Serial number QX-4471")
    thumb = page.locator("#thumb-clock")
    expect(thumb).to_have_text("Start: Front bar")
    thumb.click()
    expect(thumb).to_have_text("Stop: Front bar")
    expect(page.locator("#card-summary")).to_contain_text(
        f"{card.tavi.name}: Front bar"
    )
    page.wait_for_timeout(500)
    thumb.click()
    expect(thumb).to_have_text("Start: Front bar")
    expect(page.locator("#card-summary")).to_contain_text("nobody")
    kinds = list(TaskEvent.objects.values_list("kind", flat=True))
    assert kinds == ["reading", "fault", "fault-cleared", "serial", "start", "stop"]


def test_news_moves_nothing_and_keeps_what_is_typed(card, tablet):
    rosa = tablet(card.rosa, width=768, height=600)
    task = rosa.locator(f"#task-{card.task.pk}")
    task.locator("summary", has_text="Note").click()
    note = rosa.locator(f"#note-{card.task.pk}")
    note.fill("Radar bracket is be")
    note.scroll_into_view_if_needed()
    before = note.bounding_box()["y"]
    assert rosa.evaluate("() => scrollY") > 0

    tavi = tablet(card.tavi)
    forms = tavi.locator(f"#task-{card.task.pk}")
    forms.locator("summary", has_text="Note").click()
    tavi.fill(f"#note-{card.task.pk}", "One.\nTwo.\nThree.\nFour.\nFive.")
    forms.get_by_role("button", name="Keep note").click()
    expect(task).to_contain_text("Four.", timeout=12_000)
    expect(note).to_have_value("Radar bracket is be")
    expect(note).to_be_focused()
    assert note.bounding_box()["y"] == pytest.approx(before, abs=1)


def test_focus_stays_on_the_tick_after_it_was_confirmed(card, tablet):
    page = tablet(card.tavi)
    tick(page, card.step).focus()
    page.keyboard.press("Space")
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text(card.tavi.name)
    expect(tick(page, card.step)).to_be_focused()


def test_a_changed_plan_is_said_not_forced(card, tablet):
    page = tablet(card.tavi)
    card.other.title = "Fridge feed, doubled"
    card.other.save()
    expect(page.locator("#stale")).to_contain_text(
        "The tasks of this card have changed.", timeout=12_000
    )
    page.locator("#stale").get_by_role("link", name="Load it again").click()
    expect(page.get_by_role("heading", name="Fridge feed, doubled")).to_be_visible()


def test_without_a_script_the_same_forms_work(card, tablet, chromium, live_server):
    state = tablet(card.tavi).context.storage_state()
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, storage_state=state
    )
    page = context.new_page()
    page.goto(reverse("job-card", args=[card.build.pk]))
    tick(page, card.step).click()
    page.wait_for_url(f"**#step-{card.step.pk}")
    expect(tick(page, card.step)).to_have_attribute("aria-pressed", "true")
    context.close()
    assert TaskEvent.objects.get().step_id == card.step.pk


@pytest.mark.parametrize("size", [(1024, 768), (768, 1024)])
@pytest.mark.parametrize("contrast", ["normal", "high"])
def test_the_card_is_accessible_and_made_for_thumbs(card, tablet, size, contrast):
    page = tablet(make_person("hal", Role.MANAGER), width=size[0], height=size[1])
    tick(page, card.step).click()
    expect(page.locator(f"#said-{card.step.pk}")).to_contain_text("Hal")
    page.evaluate("c => { document.documentElement.dataset.contrast = c }", contrast)
    for summary in page.locator(".task__forms summary").all():
        summary.click()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        """() => [...document.querySelectorAll(
             "#card button, #card input:not([type=hidden]), #card select, #card summary, #card .zones a, #card .thumb-bar a"
           )].filter(e => e.getClientRects().length)
             .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
             .filter(([, box]) => box.width < 43.9 || box.height < 43.9)
             .map(([html, box]) => `${html} ${box.width} x ${box.height}`)"""
    )
    assert small == []
