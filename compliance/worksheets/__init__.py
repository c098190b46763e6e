"""One calculation each, for the advisor on the phone and for whoever checks us.

A worksheet reads named inputs and answers with named results and its working. To add
one, declare its fields and its ``compute`` in a module here and list it in
``WORKSHEETS``; the page and the command are built from that.
"""

import math
from collections.abc import Mapping
from typing import Any

from compliance.worksheets import (
    load,
    power,
    protection,
    storage,
    towing,
    tyres,
    weighing,
    wiring,
)
from compliance.worksheets.fields import (
    Field,
    Inputs,
    Worksheet,
    WorksheetError,
    read_inputs,
    step_row,
)

__all__ = ["WORKSHEETS", "Field", "Inputs", "Worksheet", "WorksheetError", "run"]

WORKSHEETS: dict[str, Worksheet] = {
    sheet.name: sheet
    for module in (load, towing, weighing, wiring, protection, power, storage, tyres)
    for sheet in module.SHEETS
}


def run(name: str, inputs: Mapping[str, Any]) -> dict[str, Any]:
    """
    Compute one worksheet.

    Parameters
    ----------
    name : str
        A key of ``WORKSHEETS``.
    inputs : Mapping
        Values by field name, as JSON gives them.

    Returns
    -------
    dict
        Results by name, those that do not apply left out, and ``working``: a list of
        ``{label, formula, value, unit, source, mark}``.

    Raises
    ------
    WorksheetError
        If the worksheet is unknown or an input cannot be used.
    """
    if name not in WORKSHEETS:
        raise WorksheetError(
            "", f"There is no worksheet {name!r}. Known: {', '.join(WORKSHEETS)}."
        )
    sheet = WORKSHEETS[name]
    try:
        results = sheet.compute(read_inputs(sheet.fields, inputs))
    except (OverflowError, ZeroDivisionError) as error:
        raise WorksheetError("", _EXTREME) from error
    working = [step_row(step) for step in results.pop("working")]
    given = {key: value for key, value in results.items() if value is not None}
    if not _finite([given, working]):
        raise WorksheetError("", _EXTREME)
    return {**given, "working": working}


_EXTREME = "These inputs are too extreme to compute with. Check the units."


def _finite(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, Mapping):
        return all(_finite(v) for v in value.values())
    if isinstance(value, list):
        return all(_finite(v) for v in value)
    return True
