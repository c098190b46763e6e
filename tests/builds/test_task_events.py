"""The log of the job card: once each, in order, refused with a sentence."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from uuid import UUID, uuid4

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builds.card import card_state
from builds.incoming import BatchError, NewEvent, Receipt, read_batch, read_event
from builds.models import BuildJob, Stage, Task, TaskEvent, TaskStep
from builds.services.tasks import add_task, record_events, withdraw_task
from tests.builds.cards import make_card, make_person

pytestmark = pytest.mark.django_db
START = timezone.now() - timedelta(hours=5)


@pytest.fixture
def card():
    return make_card()


def entry(kind, task, step=None, *, minute=0, value=None, text="", answers=None):
    return NewEvent(
        event_id=uuid4(),
        task_id=task.pk,
        step_id=step.pk if step else None,
        kind=kind,
        value=None if value is None else Decimal(value),
        text=text,
        answers=answers,
        happened_at=START + timedelta(minutes=minute),
    )


def outcomes(receipts):
    return [r.outcome for r in receipts]


def sentence_for(card, event, by=None):
    [receipt] = record_events(build=card.build, by=by or card.tavi, events=[event])
    assert receipt.outcome == "refused"
    return receipt.sentence


def shape(build):
    """Everything the card shows, in comparable form."""
    state = card_state(BuildJob.objects.get(pk=build.pk))
    return [
        (
            t.task.pk,
            [(s.step.pk, s.done, s.by, s.at, s.value) for s in t.steps],
            [(n.event_id, n.text) for n in t.notes],
            [(f.event_id, f.text) for f in t.faults],
            [f.event_id for f in t.open_faults],
            t.serial,
            sorted(t.running),
            round(t.booked_s, 6),
        )
        for t in state.tasks
    ]


def test_an_entry_sent_twice_is_kept_once(card):
    tick = entry("tick", card.task, card.step)
    first = record_events(build=card.build, by=card.tavi, events=[tick, tick])
    again = record_events(build=card.build, by=card.tavi, events=[tick])
    assert outcomes(first) == ["applied", "duplicate"]
    assert outcomes(again) == ["duplicate"]
    assert TaskEvent.objects.count() == 1


def test_an_id_used_again_for_something_else_is_refused_not_lost(card):
    one = entry("note", card.task, text="Bolts seized.")
    record_events(build=card.build, by=card.tavi, events=[one])
    other = NewEvent(
        event_id=one.event_id,
        task_id=one.task_id,
        step_id=None,
        kind="note",
        value=None,
        text="Bolts replaced.",
        answers=None,
        happened_at=one.happened_at,
    )
    assert "Enter it again" in sentence_for(card, other)


def test_the_last_of_tick_and_untick_counts(card):
    events = [
        entry("tick", card.task, card.step),
        entry("untick", card.task, card.step),
    ]
    record_events(build=card.build, by=card.tavi, events=events)
    assert not card_state(card.build).tasks[0].steps[0].done
    record_events(
        build=card.build, by=card.rosa, events=[entry("tick", card.task, card.step)]
    )
    step = card_state(card.build).tasks[0].steps[0]
    assert step.done
    assert step.by == card.rosa.name


@pytest.mark.parametrize(
    ("value", "outside"),
    [("11.9", False), ("14.8", False), ("11.899", True), ("14.801", True)],
)
def test_a_reading_is_inside_its_limits_up_to_the_limit(card, value, outside):
    reading = entry("reading", card.task, card.reading, value=value)
    record_events(build=card.build, by=card.tavi, events=[reading])
    task = card_state(card.build).tasks[0]
    assert task.steps[2].done
    assert task.steps[2].outside is outside
    assert bool(task.bad_readings) is outside


def test_a_fault_cleared_after_a_bad_reading_settles_it_one_before_does_not(card):
    early = entry("fault", card.task, card.reading, text="Loose earth.")
    clear_early = entry("fault-cleared", card.task, answers=early.event_id)
    reading = entry("reading", card.task, card.reading, value="10.2")
    record_events(build=card.build, by=card.tavi, events=[early, clear_early, reading])
    assert card_state(card.build).tasks[0].bad_readings
    late = entry("fault", card.task, card.reading, text="Meter lead was loose.")
    clear_late = entry("fault-cleared", card.task, answers=late.event_id)
    record_events(build=card.build, by=card.rosa, events=[late, clear_late])
    assert not card_state(card.build).tasks[0].bad_readings


def test_hours_run_from_start_to_stop_and_one_task_at_a_time(card):
    events = [
        entry("start", card.task, minute=0),
        entry("start", card.other, minute=30),
        entry("stop", card.other, minute=90),
        entry("stop", card.task, minute=120),
    ]
    record_events(build=card.build, by=card.tavi, events=events)
    first, second = card_state(card.build).tasks
    assert first.booked_h == pytest.approx(0.5)
    assert second.booked_h == pytest.approx(1.0)
    assert not first.running
    assert not second.running


def test_two_people_run_two_clocks(card):
    record_events(
        build=card.build, by=card.tavi, events=[entry("start", card.task, minute=0)]
    )
    record_events(
        build=card.build, by=card.rosa, events=[entry("start", card.task, minute=60)]
    )
    assert set(card_state(card.build).tasks[0].running_names.values()) == {
        card.tavi.name,
        card.rosa.name,
    }


def test_who_ticked_other_steps_does_not_check_the_hold_point(card):
    record_events(
        build=card.build, by=card.tavi, events=[entry("tick", card.task, card.step)]
    )
    hold = entry("tick", card.task, card.hold, minute=1)
    assert "second person" in sentence_for(card, hold)
    [receipt] = record_events(
        build=card.build, by=card.rosa, events=[entry("tick", card.task, card.hold)]
    )
    assert receipt.outcome == "applied"


def test_who_checked_the_hold_point_does_not_tick_the_other_steps(card):
    record_events(
        build=card.build, by=card.rosa, events=[entry("tick", card.task, card.hold)]
    )
    tick = entry("tick", card.task, card.step, minute=1)
    assert "somebody else" in sentence_for(card, tick, by=card.rosa)
    reading = entry("reading", card.task, card.reading, value="12", minute=2)
    assert "somebody else" in sentence_for(card, reading, by=card.rosa)
    other_task = entry("tick", card.other, card.other_step, minute=3)
    [receipt] = record_events(build=card.build, by=card.rosa, events=[other_task])
    assert receipt.outcome == "applied"


def test_a_second_tick_by_somebody_else_does_not_free_the_first_person(card):
    for person in (card.tavi, card.rosa):
        record_events(
            build=card.build, by=person, events=[entry("tick", card.task, card.step)]
        )
    assert "second person" in sentence_for(card, entry("tick", card.task, card.hold))


def test_a_slip_taken_back_frees_the_second_person(card):
    slip = [
        entry("tick", card.task, card.step, minute=0),
        entry("untick", card.task, card.step, minute=1),
        entry("tick", card.task, card.hold, minute=2),
    ]
    receipts = record_events(build=card.build, by=card.rosa, events=slip)
    assert outcomes(receipts) == ["applied"] * 3


def test_a_clock_set_back_does_not_get_round_the_hold_point(card):
    record_events(
        build=card.build,
        by=card.tavi,
        events=[entry("tick", card.task, card.step, minute=10)],
    )
    early = entry("tick", card.task, card.hold, minute=1)
    assert "second person" in sentence_for(card, early)


@pytest.mark.parametrize(
    ("stage", "taken"),
    [
        (Stage.ENQUIRY, False),
        (Stage.APPROVED, False),
        (Stage.BOOKED, True),
        (Stage.IN_WORK, True),
        (Stage.FITTED, True),
        (Stage.RELEASED, False),
        (Stage.HANDED_OVER, False),
    ],
)
def test_entries_are_taken_from_booked_in_until_released(card, stage, taken):
    BuildJob.objects.filter(pk=card.build.pk).update(stage=stage)
    # The caller's copy is from before the stage moved; the stored stage decides.
    [receipt] = record_events(
        build=card.build, by=card.tavi, events=[entry("tick", card.task, card.step)]
    )
    assert (receipt.outcome == "applied") is taken
    assert taken or receipt.sentence.endswith("recorded here.")


def test_what_is_refused_says_why(card):
    stranger = make_card(number="B26-0002")
    cases = [
        (entry("tick", stranger.task, stranger.step), "not on this job card"),
        (entry("tick", card.task, card.other_step), "not part of the task"),
        (entry("tick", card.task), "needs a step"),
        (entry("tick", card.task, card.reading), "entering its reading"),
        (entry("reading", card.task, card.step, value="1"), "no reading"),
        (entry("reading", card.task, card.reading), "needs a number"),
        (entry("reading", card.task, card.reading, value="12345678"), "digits"),
        (entry("reading", card.task, card.reading, value="1.2345"), "decimal"),
        (entry("note", card.task, text="  "), "few words"),
        (entry("fault", card.task), "few words"),
        (entry("serial", card.task), "serial number"),
        (entry("serial", card.task, text="9" * 61), "60 characters"),
        (entry("fault-cleared", card.task, answers=uuid4()), "no such fault"),
        (entry("fault-cleared", card.task), "no such fault"),
        (entry("polish", card.task), "not known"),
        (entry("tick", card.task, card.step, minute=60 * 24 * 3), "day ahead"),
        (entry("tick", card.task, card.step, minute=-60 * 24 * 61), "60 days"),
    ]
    for event, words in cases:
        assert words in sentence_for(card, event)
    assert not TaskEvent.objects.exists()


def test_a_note_is_not_cleared_as_a_fault_nor_one_of_another_task(card):
    note = entry("note", card.task, text="Trim clip broken.")
    fault = entry("fault", card.other, text="Lead chafed.")
    record_events(build=card.build, by=card.tavi, events=[note, fault])
    for answers in (note.event_id, fault.event_id):
        clear = entry("fault-cleared", card.task, answers=answers)
        assert "no such fault" in sentence_for(card, clear)


def test_a_clock_a_little_fast_is_set_to_now(card):
    fast = entry("tick", card.task, card.step, minute=60 * 8)
    record_events(build=card.build, by=card.tavi, events=[fast])
    assert TaskEvent.objects.get().happened_at <= timezone.now()


def test_a_refusal_does_not_stop_the_entries_after_it(card):
    events = [
        entry("tick", card.task),
        entry("tick", card.task, card.step),
        Receipt(event_id=uuid4(), outcome="refused", sentence="Unreadable."),
        entry("note", card.task, text="Done before lunch."),
    ]
    receipts = record_events(build=card.build, by=card.tavi, events=events)
    assert outcomes(receipts) == ["refused", "applied", "refused", "applied"]


def test_the_number_of_queries_grows_only_by_the_inserts(
    card, django_assert_num_queries
):
    def send(count):
        notes = [entry("note", card.task, text=f"Note {n}") for n in range(count)]
        record_events(build=card.build, by=card.tavi, events=notes)

    # Savepoint and its release, the build, tasks, steps, known ids; then the rows.
    with django_assert_num_queries(6 + 1):
        send(1)
    with django_assert_num_queries(6 + 40):
        send(40)


# Any way of sending the same entries ends in the same card.

KINDS = ["tick", "untick", "reading", "note", "fault", "serial", "start", "stop"]


def _script(card, picks):
    """Entries of two people's day, with some that must be refused among them."""
    steps = [card.step, card.hold, card.reading]
    events, fault = [], None
    for minute, (who, kind, n) in enumerate(picks):
        step = steps[n] if kind in ("tick", "untick", "reading") else None
        answers = fault if kind == "clear" else None
        event = NewEvent(
            event_id=UUID(int=minute + 1),
            task_id=card.task.pk,
            step_id=step.pk if step else None,
            kind="fault-cleared" if kind == "clear" else kind,
            value=Decimal(10 + n) if kind == "reading" else None,
            text="words" if kind in ("note", "fault", "serial") else "",
            answers=answers,
            happened_at=START + timedelta(minutes=minute),
        )
        fault = event.event_id if kind == "fault" else fault
        events.append(((card.tavi, card.rosa)[who], event))
    return events


def _send(card, script, cuts):
    TaskEvent.objects.all().delete()
    for start, stop in cuts:
        for person, event in script[start:stop]:
            record_events(build=card.build, by=person, events=[event])
    return shape(card.build)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    picks=st.lists(
        st.tuples(
            st.integers(0, 1), st.sampled_from([*KINDS, "clear"]), st.integers(0, 2)
        ),
        min_size=1,
        max_size=12,
    ),
    data=st.data(),
)
def test_resending_any_part_ends_in_the_same_card(card, picks, data):
    script = _script(card, picks)
    once = _send(card, script, [(0, len(script))])
    # Each piece goes on where the last one ended, or earlier: its answer was lost.
    cuts, at = [], 0
    while at < len(script):
        start = data.draw(st.integers(0, at))
        at = data.draw(st.integers(at + 1, len(script)))
        cuts.append((start, at))
    assert _send(card, script, cuts) == once


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(cut=st.integers(0, 6), lost=st.integers(0, 6))
def test_batches_of_one_person_may_be_cut_and_repeated(card, cut, lost):
    fault = entry("fault", card.task, text="Cracked bracket.", minute=2)
    day = [
        entry("start", card.task, minute=0),
        entry("tick", card.task, card.step, minute=1),
        fault,
        entry("tick", card.task, card.hold, minute=3),
        entry("untick", card.task, card.step, minute=4),
        entry("fault-cleared", card.task, answers=fault.event_id, minute=5),
    ]

    def send(*batches):
        TaskEvent.objects.all().delete()
        for batch in batches:
            record_events(build=card.build, by=card.tavi, events=batch)
        return shape(card.build)

    assert send(day[:cut], day[min(cut, lost) :]) == send(day)


# What arrives is read strictly.


def event_json(**changes):
    fields = {
        "event_id": "6ad4d3a2-5c27-4c5c-8a3b-2a7c8f1f0001",
        "task": 1,
        "step": 2,
        "kind": "reading",
        "value": "12.4",
        "text": "",
        "answers": None,
        "happened_at": "2026-03-02T09:15:00.000Z",
    }
    return fields | changes


def test_a_plain_entry_is_read():
    event = read_event(event_json())
    assert isinstance(event, NewEvent)
    assert event.value == Decimal("12.4")
    assert event.happened_at.isoformat() == "2026-03-02T09:15:00+00:00"


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"\xff\xfe",
        b"tick",
        b"[]",
        b'{"events": 3}',
        b'{"events": [NaN]}',
        b'{"events": [3]}',
        b'{"events": [{"event_id": "7"}]}',
        b'{"events": [' + b"[" * 200_000,
        b'{"events": [' + b"9" * 5000 + b"]}",
        b'{"events": [' + b",".join([b"{}"] * 501) + b"]}",
    ],
)
def test_a_message_that_cannot_be_read_is_refused_whole(body):
    with pytest.raises(BatchError):
        read_batch(body)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"task": None}, "which task"),
        ({"task": True}, "cannot exist"),
        ({"task": -4}, "cannot exist"),
        ({"task": 10**30}, "cannot exist"),
        ({"step": "x"}, "cannot exist"),
        ({"value": "12,4"}, "Use a point for decimals: 12.4"),
        ({"value": "12 V"}, "number only"),
        ({"value": "NaN"}, "Enter a number"),
        ({"value": "Infinity"}, "Enter a number"),
        ({"value": "1e9"}, "exponent"),
        ({"value": "١٢"}, "Enter a number"),
        ({"value": [1]}, "number"),
        ({"text": "x" * 1001}, "1000 characters"),
        ({"text": "\ud800"}, "cannot be kept"),
        ({"text": "a\x00b"}, "cannot be kept"),
        ({"text": 7}, "not text"),
        ({"answers": "that one"}, "not known"),
        ({"happened_at": "yesterday"}, "when it happened"),
        ({"happened_at": "2026-03-02T09:15:00"}, "when it happened"),
        ({"happened_at": "0001-01-01T00:00:00+23:59"}, "when it happened"),
        ({"happened_at": None}, "when it happened"),
    ],
)
def test_an_entry_that_cannot_be_read_is_refused_alone(changes, words):
    receipt = read_event(event_json(**changes))
    assert isinstance(receipt, Receipt)
    assert receipt.outcome == "refused"
    assert words in receipt.sentence


# Work added by hand.


def test_a_task_added_by_hand_brings_its_steps_and_may_be_withdrawn(card):
    steps = [{"text": "Wash the chassis."}, {"text": "Look again.", "kind": "hold"}]
    task = add_task(build=card.build, title="Underbody wash", steps=steps)
    assert [s.kind for s in task.steps.all()] == ["step", "hold"]
    withdraw_task(task=task)
    assert not Task.objects.filter(pk=task.pk).exists()


def test_a_withdrawn_task_with_history_keeps_it_and_takes_no_ticks(card):
    task = add_task(build=card.build, title="Underbody wash")
    step = task.steps.get()
    record_events(build=card.build, by=card.tavi, events=[entry("start", task)])
    withdraw_task(task=task)
    task.refresh_from_db()
    assert task.withdrawn
    assert "withdrawn" in sentence_for(card, entry("tick", task, step))
    [receipt] = record_events(
        build=card.build, by=card.tavi, events=[entry("stop", task, minute=9)]
    )
    assert receipt.outcome == "applied"


def test_a_task_of_a_line_item_is_not_withdrawn_by_hand():
    card = make_card(with_item=True)
    with pytest.raises(ValidationError, match="Remove the line item"):
        withdraw_task(task=card.task)


def test_no_task_is_added_to_a_released_build(card):
    card.build.stage = Stage.RELEASED
    with pytest.raises(ValidationError, match="can no longer"):
        add_task(build=card.build, title="Polish")


@pytest.mark.parametrize("title", ["", "x" * 141])
def test_a_task_needs_a_title_that_fits(card, title):
    with pytest.raises(ValidationError):
        add_task(build=card.build, title=title)


def test_limits_read_as_words(card):
    state = card_state(card.build).tasks[0].steps[2]
    assert state.limits == "11.9 to 14.8 V"
    state.step.low = None
    assert state.limits == "at most 14.8 V"
    state.step.low, state.step.high = Decimal("-0.500"), None
    assert state.limits == "at least −0.5 V"
    state.step.low = None
    assert state.limits == ""


def test_only_hold_points_left_means_a_second_person_is_awaited(card):
    events = [
        entry("tick", card.task, card.step),
        entry("reading", card.task, card.reading, value="12"),
    ]
    assert not card_state(card.build).tasks[0].awaits_second
    record_events(build=card.build, by=card.tavi, events=events)
    assert card_state(card.build).tasks[0].awaits_second
    record_events(
        build=card.build,
        by=make_person("ines"),
        events=[entry("tick", card.task, card.hold)],
    )
    state = card_state(card.build).tasks[0]
    assert not state.awaits_second
    assert state.done
    assert TaskStep.objects.filter(task=card.task).count() == 3
