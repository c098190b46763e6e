from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from workshop.models import Site


class SignIn(LoginView):
    template_name = "workshop/sign_in.html"
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        # Django's own view puts a request's host into "site".
        return super().get_context_data(**kwargs) | {"site": Site.current()}


sign_in = SignIn.as_view()
sign_out = LogoutView.as_view()


@require_POST
@login_not_required
def contrast(request: HttpRequest) -> HttpResponse:
    """Remember high or normal contrast on this screen; anyone may."""
    back = request.POST.get("next", "/")
    ours = url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()})
    response = HttpResponseRedirect(back if ours and back.startswith("/") else "/")
    chosen = "high" if request.POST.get("contrast") == "high" else "normal"
    response.set_cookie(
        "contrast", chosen, max_age=365 * 86400, samesite="Lax", httponly=False
    )
    return response
