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


def citation(name: str) -> str:
    """Name the document and the clause a table was copied from."""
    source = table(name)["source"]
    clause = source["clause"]
    return f"{source['document']}" + ("" if clause == "none" else f", {clause}")


def mark(name: str) -> Mark:
    """Give the mark that travels with a table's numbers."""
    status = str(table(name)["source"]["status"])
    if status.startswith("READ"):
        return "published"
    return "common practice" if status.startswith("COMMON") else "from memory"
