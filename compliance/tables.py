"""Numbers copied from documents, each with its source, read once."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from compliance.findings import Mark

FOLDER = Path(__file__).parent / "tables"


@cache
def table(name: str) -> dict[str, Any]:
    """
    Read one table of ``tables/``.

    Parameters
    ----------
    name : str
        File name without its ending.

    Returns
    -------
    dict
        The table as TOML gives it, ``source`` included.

    Raises
    ------
    FileNotFoundError
        If there is no such table.
    """
    with (FOLDER / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)


@cache
def citation(name: str, entry: str = "") -> str:
    """Name the document and the clause a table, or one entry of it, was copied from."""
    source = _source(name, entry)
    clause = source["clause"]
    return f"{source['document']}" + ("" if clause == "none" else f", {clause}")


@cache
def mark(name: str, entry: str = "") -> Mark:
    """Give the mark that travels with a table's numbers, or with those of one entry."""
    status = str(_source(name, entry)["status"])
    for start, known in _MARKS.items():
        if status.startswith(start):
            return known
    raise ValueError(f"{name}: status {status!r} has no mark")


_MARKS: dict[str, Mark] = {
    "READ": "published",
    "COMMON": "common practice",
    "MEMORY": "from memory",
    "DERIVED": "derived",
}


def _source(name: str, entry: str) -> dict[str, Any]:
    """Give an entry's own source where it states one, else that of its table."""
    data = table(name)
    found: dict[str, Any] = data["source"]
    return {**found, **data[entry]} if entry and "status" in data[entry] else found
