from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from builds.worksheet_form import ROWS, WorksheetForm, typed_from
from compliance.worksheets import WORKSHEETS, WorksheetError, run
from workshop.http import StaffRequest, everyone


@require_safe
@everyone
def worksheets(request: StaffRequest) -> HttpResponse:
    context = {"sheets": WORKSHEETS.values()}
    return render(request, "builds/worksheets.html", context)


def _rows(request: StaffRequest) -> int:
    text = request.POST.get("rows", "")
    rows = int(text) if text.isdecimal() and len(text) < 4 else ROWS
    return rows + ROWS if request.POST.get("do") == "rows" else rows


@require_http_methods(["GET", "HEAD", "POST"])
@everyone
def worksheet(request: StaffRequest, name: str) -> HttpResponse:
    """Compute one worksheet from what is typed; nothing is stored."""
    sheet = WORKSHEETS.get(name)
    if sheet is None:
        raise Http404("There is no such worksheet.")
    typed = request.POST.dict()
    if request.GET.get("example"):
        typed = typed_from(sheet.fields, sheet.example())
    form = WorksheetForm(sheet.fields, typed, _rows(request))
    result: dict[str, Any] | None = None
    problem, status = "", 200
    if request.method == "POST" and request.POST.get("do") != "rows":
        try:
            result = None if form.errors else run(name, form.values)
        except WorksheetError as error:
            problem = form.put_error(error.field, error.sentence)
        status = 422 if result is None else 200
    context = {
        "sheet": sheet,
        "form": form,
        "result": _shown(result) if result else None,
        "working": result.pop("working") if result else [],
        "problem": problem,
        "refused": status == 422,
    }
    return render(request, "builds/worksheet.html", context, status=status)


def _shown(result: dict[str, Any]) -> list[tuple[str, Any, list[dict[str, Any]]]]:
    """List results for the page: name, value, and rows where the value is a table."""
    found = []
    for name, value in result.items():
        if name == "working":
            continue
        rows = value if isinstance(value, list) else []
        is_table = bool(rows) and isinstance(rows[0], dict)
        if isinstance(value, dict):
            rows, is_table = [value], True
        if isinstance(value, list) and not is_table:
            value = ", ".join(f"{v:g}" for v in value)
        found.append((name, value, rows if is_table else []))
    return found
