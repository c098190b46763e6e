"""The job card's page, what it takes, and what it answers to tablets."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from builds.models import BuildJob, Stage, Task, TaskEvent
from tests.builds.cards import make_card, make_person
from workshop.models import Role

pytestmark = pytest.mark.django_db


@pytest.fixture
def card():
    return make_card(with_item=True)


@pytest.fixture
def tablet(card):
    client = Client()
    client.force_login(card.tavi)
    return client


@pytest.fixture
def desk():
    client = Client()
    client.force_login(make_person("hal", Role.MANAGER))
    return client


def page_of(card, name="job-card", *more):
    return reverse(name, args=[card.build.pk, *more])


def entry(card, kind="tick", **changes):
    fields = {
        "event_id": str(uuid4()),
        "task": card.task.pk,
        "step": card.step.pk if kind in ("tick", "untick") else None,
        "kind": kind,
        "happened_at": timezone.now().isoformat(),
    }
    return fields | changes


def send(client, card, *events, **more):
    return client.post(
        page_of(card, "job-card-events"),
        data=json.dumps({"events": events} | more),
        content_type="application/json",
    )


def form_of(html, marker):
    """Give the hidden fields of the form that holds ``marker``, as a browser would."""
    for form in re.findall(r"<form.*?</form>", html, re.S):
        if marker in form:
            pairs = re.findall(
                r'<input type="hidden" name="(\w+)" value="([^"]*)"', form
            )
            return dict(pairs)
    raise AssertionError(f"no form holds {marker}")


def test_the_card_shows_tasks_in_walk_around_order_with_their_facts(card, tablet):
    html = tablet.get(page_of(card)).content.decode()
    assert html.index("Front bar") < html.index("Fridge feed")
    for words in (
        "Torque 110",
        "Limits 11.9 to 14.8 V",
        "Hold point: a second person checks",
        "0.0 of 3.5 h",
        "Keep the radar clear.",
        "On the chassis rails",
        'href="#zone-front"',
        f'href="#task-{card.task.pk}"',
    ):
        assert words in html


def test_a_fitter_reads_no_price_and_no_contact_anywhere_on_the_card(card, tablet):
    send(tablet, card, entry(card))
    pages = [
        tablet.get(page_of(card)),
        tablet.get(page_of(card, "job-card-state")),
        tablet.post(
            page_of(card, "job-card-record"), entry(card, "note", step="", text="")
        ),
    ]
    for response in pages:
        text = response.content.decode()
        for secret in (
            "1987",
            "1,987",
            "5550 1234",
            "orla@example.org",
            "Invented Lane",
        ):
            assert secret not in text


def test_a_plain_form_ticks_once_however_often_it_is_sent(card, tablet):
    html = tablet.get(page_of(card)).content.decode()
    form = form_of(html, f'id="tick-{card.step.pk}"')
    for _ in range(2):
        response = tablet.post(page_of(card, "job-card-record"), form)
        assert response.status_code == 302
        assert response.url == f"{page_of(card)}#step-{card.step.pk}"
    assert TaskEvent.objects.get().kind == "tick"
    html = tablet.get(page_of(card)).content.decode()
    assert form_of(html, f'id="tick-{card.step.pk}"')["kind"] == "untick"
    assert "1 of 3" in html


@pytest.mark.parametrize(
    ("typed", "word"),
    [("12.4", "inside its limits"), ("9.1", "outside its limits")],
)
def test_a_plain_reading_stands_beside_its_limits(card, tablet, typed, word):
    html = tablet.get(page_of(card)).content.decode()
    form = form_of(html, f'id="value-{card.reading.pk}"') | {"value": typed}
    assert tablet.post(page_of(card, "job-card-record"), form).status_code == 302
    html = tablet.get(page_of(card)).content.decode()
    assert f"Read {typed} V" in html
    assert word in html


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("12,4", "Use a point for decimals: 12.4"),
        ("12 V", "Enter the number only"),
        ("much", "Enter a number"),
        ("", "A reading needs a number."),
    ],
)
def test_a_reading_that_is_no_number_stays_typed_with_a_sentence(
    card, tablet, typed, sentence
):
    html = tablet.get(page_of(card)).content.decode()
    form = form_of(html, f'id="value-{card.reading.pk}"') | {"value": typed}
    response = tablet.post(page_of(card, "job-card-record"), form)
    html = response.content.decode()
    assert response.status_code == 422
    field = re.search(rf'<input id="value-{card.reading.pk}".*?>', html).group()
    assert f'value="{typed}"' in field
    assert 'aria-invalid="true"' in field
    error = re.search(rf'id="value-error-{card.reading.pk}">(.*?)</p>', html).group(1)
    assert sentence in error
    assert not TaskEvent.objects.exists()


def test_a_fault_is_reported_at_its_step_and_cleared(card, tablet):
    form = entry(card, "fault", step=card.step.pk, text="Stud <b>stripped</b>")
    tablet.post(page_of(card, "job-card-record"), form)
    html = tablet.get(page_of(card)).content.decode()
    assert "Fault open:" in html
    assert "Stud &lt;b&gt;stripped&lt;/b&gt;" in html
    fault = TaskEvent.objects.get()
    clear = form_of(html, f'id="clear-{fault.pk}"')
    tablet.post(page_of(card, "job-card-record"), clear)
    assert "Fault cleared:" in tablet.get(page_of(card)).content.decode()


def test_the_hold_point_is_refused_to_who_fitted_it_on_the_page(card, tablet):
    tablet.post(page_of(card, "job-card-record"), entry(card))
    html = tablet.get(page_of(card)).content.decode()
    hold = form_of(html, f'id="tick-{card.hold.pk}"')
    response = tablet.post(page_of(card, "job-card-record"), hold)
    assert response.status_code == 422
    assert "A second person checks this" in response.content.decode()


def test_a_plain_form_without_an_id_is_a_bad_request(card, tablet):
    response = tablet.post(page_of(card, "job-card-record"), {"kind": "tick"})
    assert response.status_code == 400


@pytest.mark.parametrize(
    "stage", [Stage.ENQUIRY, Stage.APPROVED, Stage.RELEASED, Stage.HANDED_OVER]
)
def test_outside_its_stages_the_card_is_read_only(card, tablet, stage):
    BuildJob.objects.filter(pk=card.build.pk).update(stage=stage)
    html = tablet.get(page_of(card)).content.decode()
    assert "recorded here." in html
    assert "data-record" not in html
    answer = send(tablet, card, entry(card)).json()["results"][0]
    assert answer["outcome"] == "refused"


# Batches from tablets.


def test_a_batch_is_answered_one_by_one_and_counts_once(card, tablet):
    tick, bad = entry(card), entry(card, "tick", step=card.other_step.pk)
    note = entry(card, "note", text="Two clips replaced.")
    first = send(tablet, card, tick, bad, note).json()["results"]
    again = send(tablet, card, tick, bad, note).json()["results"]
    assert [r["outcome"] for r in first] == ["applied", "refused", "applied"]
    assert [r["outcome"] for r in again] == ["duplicate", "refused", "duplicate"]
    assert first[1]["sentence"] == "That step is not part of the task."
    assert [r["event_id"] for r in first] == [e["event_id"] for e in (tick, bad, note)]
    assert TaskEvent.objects.count() == 2


def test_entries_keep_when_they_happened(card, tablet):
    moment = timezone.now() - timedelta(hours=7)
    send(tablet, card, entry(card, happened_at=moment.isoformat()))
    assert TaskEvent.objects.get().happened_at == moment


def test_signed_out_answers_401_in_json_never_a_redirect(card):
    client = Client()
    for response in (
        send(client, card, entry(card)),
        client.get(page_of(card, "job-card-state")),
    ):
        assert response.status_code == 401
        assert response.json() == {"error": "Sign in to send."}
    assert not TaskEvent.objects.exists()


def test_the_page_itself_sends_to_the_sign_in(card):
    response = Client().get(page_of(card))
    assert response.status_code == 302
    assert response.url.startswith(reverse("sign-in"))


def test_without_a_role_nothing_is_open(card):
    client = Client()
    client.force_login(make_person("nobody", ""))
    assert send(client, card, entry(card)).status_code == 403
    assert client.get(page_of(card, "job-card-state")).status_code == 403
    assert client.get(page_of(card)).status_code == 403


def test_without_the_token_403_and_the_state_brings_a_new_cookie(card):
    client = Client(enforce_csrf_checks=True)
    client.force_login(card.tavi)
    assert send(client, card, entry(card)).status_code == 403
    assert client.get(page_of(card, "job-card-state")).status_code == 204
    response = client.post(
        page_of(card, "job-card-events"),
        data=json.dumps({"events": [entry(card)]}),
        content_type="application/json",
        headers={"X-CSRFToken": client.cookies["csrftoken"].value},
    )
    assert response.status_code == 200


def test_entries_of_one_person_are_not_taken_from_another(card, tablet):
    response = send(tablet, card, entry(card), person=card.rosa.pk)
    assert response.status_code == 409
    assert not TaskEvent.objects.exists()
    assert send(tablet, card, entry(card), person=card.tavi.pk).status_code == 200


@pytest.mark.parametrize(
    "body", [b" ", b"{", b"[]", b'{"events": {}}', b'{"events": [1e999, NaN]}', b"\xff"]
)
def test_what_is_not_json_is_answered_400_with_a_sentence(card, tablet, body):
    response = tablet.post(
        page_of(card, "job-card-events"), data=body, content_type="application/json"
    )
    assert response.status_code == 400
    assert response.json()["error"].endswith(("sends.", "“events”.", "“event_id”."))


def test_another_kind_of_body_is_415_and_too_much_of_it_413(card, tablet):
    url = page_of(card, "job-card-events")
    assert tablet.post(url, {"events": "[]"}).status_code == 415
    long = json.dumps({"events": [], "text": "x" * 1_000_001})
    assert tablet.post(url, long, content_type="application/json").status_code == 413


def test_odd_values_inside_an_entry_never_break_the_batch(card, tablet):
    odd = [
        entry(card, "reading", step=card.reading.pk, value="9" * 39),
        entry(card, "reading", step=card.reading.pk, value={"a": 1}),
        entry(card, "note", text="\ud800"),
        entry(card, "note", text="\x00"),
        entry(card, "note", text=["x"]),
        entry(card, task=2**70),
        entry(card, task=9_999_999_999_999_999),
        entry(card, step=9_999_999_999_999_999),
        entry(card, "x" * 5000),
        entry(card, kind=None),
        entry(card, happened_at="9999-12-31T23:59:59+00:00"),
        entry(card, happened_at=17),
    ]
    results = send(tablet, card, *odd, entry(card)).json()["results"]
    assert [r["outcome"] for r in results] == ["refused"] * 12 + ["applied"]
    assert all(r["sentence"] for r in results[:-1])


@pytest.mark.parametrize("name", ["job-card-events", "job-card-record"])
def test_writing_needs_a_post(card, tablet, name):
    assert tablet.get(page_of(card, name)).status_code == 405


def test_a_card_that_is_not_there_is_404(tablet):
    for name in ("job-card", "job-card-state"):
        assert tablet.get(reverse(name, args=[987654])).status_code == 404


# What others changed.


def state(client, card, **query):
    return client.get(page_of(card, "job-card-state"), query)


def test_nothing_new_is_204_and_a_tick_brings_only_its_task(card, tablet):
    send(tablet, card, entry(card))
    seen = state(tablet, card).json()
    same = {"after": seen["last"], "plan": seen["plan"]}
    assert state(tablet, card, **same).status_code == 204

    rosa = Client()
    rosa.force_login(card.rosa)
    send(rosa, card, entry(card, task=card.other.pk, step=card.other_step.pk))
    news = state(tablet, card, **same).json()
    assert list(news["tasks"]) == [str(card.other.pk)]
    fragment = news["tasks"][str(card.other.pk)]
    assert f'id="task-{card.other.pk}"' in fragment
    assert 'aria-pressed="true"' in fragment
    assert card.rosa.name in fragment
    assert news["person"] == card.tavi.pk


def test_a_fragment_is_the_same_as_on_the_page(card, tablet):
    send(tablet, card, entry(card), entry(card, "start"))

    def plain(html):
        html = re.sub(r'name="(csrfmiddlewaretoken|event_id)" value="[^"]*"', "", html)
        return re.sub(r"\s+", " ", html)

    page = plain(tablet.get(page_of(card)).content.decode())
    news = state(tablet, card).json()
    for html in (news["tasks"][str(card.task.pk)], news["summary"], news["thumb"]):
        # The note on what a template needs is no part of either.
        assert plain(html).strip() in page


def test_a_new_task_or_stage_makes_the_page_out_of_date(card, tablet):
    send(tablet, card, entry(card))
    seen = state(tablet, card).json()
    same = {"after": seen["last"], "plan": seen["plan"]}
    wash = Task.objects.create(build=card.build, title="Wash")
    assert state(tablet, card, **same).json()["plan"] != seen["plan"]
    wash.delete()
    assert state(tablet, card, **same).status_code == 204
    BuildJob.objects.filter(pk=card.build.pk).update(stage=Stage.FITTED)
    assert state(tablet, card, **same).json()["plan"] != seen["plan"]


@pytest.mark.parametrize("after", ["-1", "x", "1.5", "٣", "9" * 16])
def test_an_odd_after_is_400(card, tablet, after):
    assert state(tablet, card, after=after).status_code == 400


def test_polling_costs_few_queries_however_long_the_log(
    card, tablet, django_assert_max_num_queries
):
    send(tablet, card, *[entry(card, "note", text=f"Note {n}") for n in range(30)])
    seen = state(tablet, card).json()
    with django_assert_max_num_queries(5):
        state(tablet, card, after=seen["last"], plan=seen["plan"])


# Work added by hand.


def test_a_manager_adds_a_task_and_withdraws_it(card, desk):
    url = page_of(card, "job-card-task-new")
    assert desk.get(url).status_code == 200
    typed = {
        "title": "Underbody wash",
        "skill": "body",
        "estimate_h": "1.5",
        "steps": "Wash it\nLook again | hold\nDrying time | reading h 2..",
    }
    task_url = desk.post(url, typed).url
    task = Task.objects.get(title="Underbody wash")
    assert task_url == f"{page_of(card)}#task-{task.pk}"
    assert [s.kind for s in task.steps.all()] == ["step", "hold", "reading"]
    assert "Whole vehicle" in desk.get(page_of(card)).content.decode()
    assert desk.get(page_of(card, "job-card-task-withdraw", task.pk)).status_code == 405
    desk.post(page_of(card, "job-card-task-withdraw", task.pk))
    assert not Task.objects.filter(pk=task.pk).exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"title": ""}, "This field is required."),
        ({"estimate_h": "1,5"}, "Use a point for decimals: 1.5"),
        ({"estimate_h": "-1"}, "greater than or equal to 0"),
        ({"steps": "Wash | slowly"}, "after | write torque 110 Nm"),
        ({"steps": "Tighten | torque 999999 Nm"}, "2000"),
        ({"steps": "Measure | reading V 15..11"}, "wrong way round"),
        ({"skill": "magic"}, "Select a valid choice"),
    ],
)
def test_a_task_that_cannot_be_added_keeps_what_was_typed(
    card, desk, changes, sentence
):
    typed = {"title": "Wash the chassis", "estimate_h": "2", "steps": "Wash"} | changes
    response = desk.post(page_of(card, "job-card-task-new"), typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert sentence in html.replace("&#x27;", "'")
    assert all(value in html for value in typed.values() if value != "magic")
    assert Task.objects.count() == 2


def test_a_task_of_a_line_item_is_not_withdrawn(card, desk):
    response = desk.post(page_of(card, "job-card-task-withdraw", card.task.pk))
    assert response.status_code == 422
    assert "Remove the line item instead" in response.content.decode()


def test_a_fitter_plans_no_tasks(card, tablet):
    assert tablet.get(page_of(card, "job-card-task-new")).status_code == 403
    withdraw = page_of(card, "job-card-task-withdraw", card.other.pk)
    assert tablet.post(withdraw).status_code == 403
    assert "Withdraw this task" not in tablet.get(page_of(card)).content.decode()


def test_a_task_of_another_build_is_not_withdrawn_here(card, desk):
    other = make_card(number="B26-0002")
    url = page_of(card, "job-card-task-withdraw", other.other.pk)
    assert desk.post(url).status_code == 404
