"""Signing in."""

from django.contrib.auth.forms import AuthenticationForm


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "This name and password do not belong together. Check both; the password knows capitals.",
        "inactive": "This person no longer signs in here. Ask the lead therapist.",
    }
