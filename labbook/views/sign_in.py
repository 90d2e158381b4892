"""Signing in and out; on a shared PC a second group beside the first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib.auth import views as auth_views
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from ..forms.sign_in import SignInForm
from ..models import Role
from ..problems import refuse
from ..requests import SignedIn
from ..shared_pc import also_here, sign_in_here, switch_to

if TYPE_CHECKING:
    from django.contrib.auth.forms import AuthenticationForm


class SignIn(auth_views.LoginView):
    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    request: SignedIn

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
