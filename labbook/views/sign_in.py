"""Signing in and out; on a shared PC a second group beside the first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.contrib.auth import views as auth_views
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from ..actions.sign_ins import forget_failures
from ..forms.sign_in import SignInForm
from ..lookups.sign_ins import held_sign_in, name_tried
from ..models import Role
from ..parts import page
from ..problems import refuse
from ..requests import SignedIn, address_of, what_was_sent
from ..shared_pc import also_here, sign_in_here, switch_to

if TYPE_CHECKING:
    from django.contrib.auth.forms import AuthenticationForm


class SignIn(auth_views.LoginView):
    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    request: SignedIn

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        ended = self.request.session.pop("ended", "")
        campus = {"campus": settings.LABBOOK_CAMPUS, "was_idle": ended == "idle"}
        return super().get_context_data(**kwargs) | campus

    def post(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        forget_failures()
        return super().post(request, *args, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        sign_in_here(self.request, form.get_user())
        return HttpResponseRedirect(self.get_success_url())


class AnotherGroup(SignIn):
    """The sign-in page again, for a group that shares the PC; the first stays signed in."""

    redirect_authenticated_user = False

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        if request.user.role != Role.GROUP:
            return redirect("home")
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**kwargs) | {"beside": self.request.user}


def too_many_tries(
    request: SignedIn, refused: HttpResponse, credentials: dict[str, Any] | None
) -> HttpResponse:
    """In place of the form: for how long this name is held here, and what can be done."""
    name, here = name_tried(request, credentials), address_of(request)
    held = held_sign_in(name, here)
    response = page(request, "429.html", {"held": held}, status=429)
    response["Retry-After"] = str(60 * (held.minutes if held else 1))
    return response


def stale_form(request: SignedIn, reason: str = "") -> HttpResponse:
    """A form from before a sign-in or sign-out is not taken; what was typed in it comes back."""
    return render(request, "403_csrf.html", {"sent": what_was_sent(request)}, status=403)


sign_in = SignIn.as_view()
another_group = AnotherGroup.as_view()
sign_out = auth_views.LogoutView.as_view()


@require_POST
def switch_group(request: SignedIn) -> HttpResponse:
    """Go on as another group that is signed in at this PC."""
    chosen = request.POST.get("account", "")
    account = next((other for other in also_here(request) if str(other.pk) == chosen), None)
    if account is None:
        sentence = "That group is not signed in at this PC any more. Sign it in again by its slip."
        raise refuse("sign-in", sentence)
    switch_to(request, account)
    return redirect("home")
