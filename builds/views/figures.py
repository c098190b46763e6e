from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from builds.forms.figures import GROUPS, OwnFiguresForm, unit_words
from compliance.settings import SETTINGS, Settings
from workshop import services
from workshop.forms_fields import put_errors
from workshop.http import StaffRequest, managers, office
from workshop.models import Role, Site


def _groups(form: OwnFiguresForm) -> list[tuple[str, list[dict[str, Any]]]]:
    books = Settings()  # what the tables say, whatever the workshop has set
    return [
        (
            title,
            [
                {
                    "setting": setting,
                    "unit": unit_words(setting),
                    "source": books.source(name),
                    "mark": books.mark(name),
                    "field": form[name],
                }
                for name, setting in SETTINGS.items()
                if setting.table in tables
            ],
        )
        for title, tables in GROUPS.items()
    ]


def _page(request: StaffRequest, form: OwnFiguresForm, status: int) -> HttpResponse:
    context = {
        "form": form,
        "groups": _groups(form),
        "may_change": request.user.role == Role.MANAGER,
    }
    return render(request, "builds/own_figures.html", context, status=status)


@require_safe
@office
def own_figures(request: StaffRequest) -> HttpResponse:
    """Show every planning figure with its source and what the workshop has set."""
    form = OwnFiguresForm(initial=Site.current().own_figures)
    return _page(request, form, 200)


@require_POST
@managers
def own_figures_set(request: StaffRequest) -> HttpResponse:
    form = OwnFiguresForm(request.POST)
    if form.is_valid():
        try:
            services.set_own_figures(figures=form.own())
            messages.success(request, "Saved. Builds are checked with these now.")
            return redirect("own-figures")
        except ValidationError as error:
            put_errors(form, error)
    return _page(request, form, 422)
