"""The sign-in form."""

from django.contrib.auth.forms import AuthenticationForm


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": (
            "That sign-in name and password do not go together. Groups sign in with the name on "
            "their slip; check for capitals in the password."
        ),
        "inactive": "This sign-in is closed. Ask a coordinator.",
    }
