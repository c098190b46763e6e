"""What every request shares: the signed-in person, roles, security headers, fragments."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.urls import NoReverseMatch, reverse
from django_htmx.middleware import HtmxDetails

from workshop.models import Person, Role, Site

P = ParamSpec("P")


class StaffRequest(HttpRequest):
    user: Person
    htmx: HtmxDetails


View = Callable[Concatenate[StaffRequest, P], HttpResponse]


def roles_allowed(*roles: Role) -> Callable[[View[P]], View[P]]:
    """Refuse everybody whose role is not named; every view states who may use it."""

    def decorate(view: View[P]) -> View[P]:
        @wraps(view)
        def guarded(
            request: StaffRequest, *args: P.args, **kwargs: P.kwargs
        ) -> HttpResponse:
            if request.user.role not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.roles = frozenset(roles)  # type: ignore[attr-defined]
        return cast("View[P]", guarded)

    return decorate


office = roles_allowed(Role.ADVISOR, Role.MANAGER)
managers = roles_allowed(Role.MANAGER)
everyone = roles_allowed(Role.ADVISOR, Role.FITTER, Role.MANAGER)


def wants_fragment(request: StaffRequest) -> bool:
    """A swap wants a part of the page; a history restore wants all of it."""
    return bool(request.htmx) and not request.htmx.history_restore_request


def typed_query(request: HttpRequest) -> str:
    """Read what was typed into a search box; PostgreSQL takes no NUL."""
    return request.GET.get("q", "").replace("\x00", "").strip()[:100]


CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)


class SecurityHeadersMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers.setdefault(
            "Permissions-Policy", "geolocation=(), microphone=(), camera=(self)"
        )
        if request.path.startswith("/static/"):
            return response
        # Pages hold customers' details; a shared tablet must not keep them.
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response


NAV = [
    ("builds", "Builds", {Role.ADVISOR, Role.FITTER, Role.MANAGER}),
    ("week", "Week", {Role.ADVISOR, Role.FITTER, Role.MANAGER}),
    ("vehicles", "Vehicles", {Role.ADVISOR, Role.MANAGER}),
    ("customers", "Customers", {Role.ADVISOR, Role.MANAGER}),
    ("catalogue", "Catalogue", {Role.ADVISOR, Role.MANAGER}),
    ("worksheets", "Worksheets", {Role.ADVISOR, Role.FITTER, Role.MANAGER}),
    ("site", "Workshop", {Role.MANAGER}),
]


ALSO = {
    "builds": "/builds/",
    "vehicles": "/type-sheets/",
    "catalogue": "/packages/",
    "site": "/figures/",
}
"""Pages that stand under an entry of the nav without its path."""


def shop_context(request: HttpRequest) -> dict[str, object]:
    """Give every template the workshop, the way around and the contrast chosen."""
    user = getattr(request, "user", None)
    nav = []
    if isinstance(user, Person):
        for name, label, roles in NAV:
            if user.role not in roles:
                continue
            try:
                url = reverse(name)
            except NoReverseMatch:
                continue
            here = request.path == url or (url != "/" and request.path.startswith(url))
            current = here or request.path.startswith(ALSO.get(name, "//"))
            nav.append({"url": url, "label": label, "current": current})
    return {
        "site": Site.current(),
        "nav": nav,
        "contrast": "high" if request.COOKIES.get("contrast") == "high" else "normal",
        "may_see_money": isinstance(user, Person) and user.may_see_money,
    }
