"""What every write shares: nothing stale overwrites, nothing invalid is stored."""

from __future__ import annotations

from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db.models import Model
from django.utils.text import slugify

M = TypeVar("M", bound=Model)


class StaleError(ValidationError):
    """Somebody else saved the same thing since this page was opened.

    ``stored`` is the version to compare with; the next save is made against it.
    """

    def __init__(self, what: str, stored: int) -> None:
        self.stored = stored
        super().__init__(
            f"{what} was changed by somebody else while this page was open. Nothing "
            "was overwritten. What you typed is still here: compare, then save again.",
            code="stale",
        )


def apply_version(instance: Any, version: int | None, what: str) -> None:
    """Refuse a save made from an older page; count the version up otherwise.

    Where no page's version is known, the one counts that the instance was read with:
    the whole row is saved, and must not put back what was saved in between.

    The caller holds the row's write lock (SQLite begins IMMEDIATE, PostgreSQL reads
    with ``select_for_update``), so two saves cannot both pass.
    """
    stored = (
        type(instance)
        ._default_manager.select_for_update()
        .values_list("version", flat=True)
        .get(pk=instance.pk)
    )
    if stored != (instance.version if version is None else version):
        raise StaleError(what, stored)
    instance.version = stored + 1


def set_fields(instance: M, fields: dict[str, Any]) -> M:
    for name, value in fields.items():
        setattr(instance, name, value)
    return instance


def save_clean(instance: M) -> M:
    instance.full_clean()
    instance.save()
    return instance


def free_key(label: str, taken: set[str], fallback: str, longest: int = 60) -> str:
    """Make a key for a record out of a label in any script; count up when taken."""
    stem = slugify(label)[: longest - 10].strip("-") or fallback
    key, n = stem, 2
    while key in taken:
        key, n = f"{stem}-{n}", n + 1
    return key
