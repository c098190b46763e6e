"""What a tablet sends: read strictly, refused one by one with a sentence."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, NoReturn
from uuid import UUID

from django.core.exceptions import ValidationError

from workshop.forms_fields import refuse_odd_number

MAX_BODY = 1_000_000
MAX_EVENTS = 500
MAX_TEXT = 1000
PLAIN_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)")
ROW_ID = re.compile(r"[1-9]\d{0,15}")


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEvent:
    """One event as a tablet sends it."""

    event_id: UUID
    task_id: int
    step_id: int | None
    kind: str
    value: Decimal | None
    text: str
    answers: UUID | None
    happened_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What became of one event: ``applied``, ``duplicate`` or ``refused``."""

    event_id: UUID
    outcome: str
    sentence: str = ""


class BatchError(ValueError):
    """The message as a whole cannot be read, so no event of it can be answered."""


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def read_batch(body: bytes) -> tuple[int | None, list[NewEvent | Receipt]]:
    """Read ``{"person": 3, "events": [...]}``: whose entries they are, and the entries.

    An entry that cannot be read is already refused. Without ``person`` they are of
    whoever is signed in.
    """
    try:
        # Numbers stay text until the reading's own check, which knows what to say.
        message = json.loads(
            body.decode(), parse_float=str, parse_constant=_no_constant
        )
    except (ValueError, RecursionError) as error:
        raise BatchError("This is not the JSON that a job card sends.") from error
    events = message.get("events") if isinstance(message, dict) else None
    if not isinstance(message, dict) or not isinstance(events, list):
        raise BatchError("The message needs a list named “events”.")
    if len(events) > MAX_EVENTS:
        raise BatchError(f"Send at most {MAX_EVENTS} entries at once.")
    person = message.get("person")
    if person is not None and type(person) is not int:
        raise BatchError("“person” is the number of whoever made the entries.")
    return person, [read_event(raw) for raw in events]


def read_event(raw: object) -> NewEvent | Receipt:
    if not isinstance(raw, Mapping):
        raise BatchError("Each entry must be an object with an “event_id”.")
    try:
        event_id = UUID(str(raw.get("event_id")))
    except ValueError as error:
        raise BatchError("Each entry needs an “event_id” that is a UUID.") from error
    try:
        return _read_fields(event_id, raw)
    except ValidationError as error:
        return Receipt(
            event_id=event_id, outcome="refused", sentence=" ".join(error.messages)
        )


def _read_fields(event_id: UUID, raw: Mapping[str, Any]) -> NewEvent:
    task_id = _read_row_id(raw.get("task"))
    if task_id is None:
        raise ValidationError("The entry does not say which task it belongs to.")
    return NewEvent(
        event_id=event_id,
        task_id=task_id,
        step_id=_read_row_id(raw.get("step")),
        kind=str(raw.get("kind", ""))[:20],
        value=_read_number(raw.get("value")),
        text=_read_text(raw.get("text")),
        answers=_read_answers(raw.get("answers")),
        happened_at=_read_moment(raw.get("happened_at")),
    )


def _read_row_id(value: object) -> int | None:
    if value is None or value == "":
        return None
    if isinstance(value, bool) or not ROW_ID.fullmatch(str(value)):
        raise ValidationError("The entry names a task or step that cannot exist.")
    return int(str(value))


def _read_number(value: object) -> Decimal | None:
    text = "" if value is None else str(value).strip()
    if not text:
        return None
    text = text[:40].replace("−", "-")  # noqa: RUF001 - a true minus is typed too
    if isinstance(value, bool):
        raise ValidationError("Enter a number, such as 12.5.")
    refuse_odd_number(text)
    if not PLAIN_NUMBER.fullmatch(text) or not text.isascii():
        raise ValidationError("Enter a number, such as 12.5.")
    return Decimal(text)


def _read_text(value: object) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        raise ValidationError("The words of this entry are not text.")
    text = value.replace("\r\n", "\n").strip()
    if len(text) > MAX_TEXT:
        raise ValidationError(f"Shorten it to {MAX_TEXT} characters.")
    if "\x00" in text or any("\ud800" <= c <= "\udfff" for c in text):
        raise ValidationError("The words hold a sign that cannot be kept.")
    return text


def _read_answers(value: object) -> UUID | None:
    if value is None or value == "":
        return None
    try:
        return UUID(str(value))
    except ValueError as error:
        raise ValidationError("The fault that is cleared is not known.") from error


def _read_moment(value: object) -> datetime:
    try:
        moment = datetime.fromisoformat(str(value))
        if moment.tzinfo is None:
            raise ValueError("no time zone")
        return moment.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise ValidationError("The entry does not say when it happened.") from error
