"""Settings of signing in: passwords, and django-allauth with words, pages and addresses of our own."""

from typing import Any

# A clinic is often one network address, and everybody comes at eight: per person it is narrow, per address wide.
LIMITS = {
    "login": "120/m/ip",
    "login_failed": "100/15m/ip,10/15m/key",
    "reauthenticate": "20/15m/user",
    "change_password": "10/15m/user",
    "reset_password": "30/15m/ip,5/15m/key",
}


def sign_in(https: bool) -> dict[str, Any]:
    """Without TLS, on the loopback address, a passkey is taken from an insecure origin too."""
    return {
        "PASSWORD_HASHERS": [f"django.contrib.auth.hashers.{name}PasswordHasher" for name in ("Argon2", "PBKDF2")],
        "AUTH_PASSWORD_VALIDATORS": [{"NAME": "caseload.reads.passwords.Fit"}],
        "ACCOUNT_ADAPTER": "caseload.web.adapters.SignInAdapter",
        "ACCOUNT_LOGIN_METHODS": {"username"},
        "ACCOUNT_EMAIL_VERIFICATION": "none",
        "ACCOUNT_RATE_LIMITS": LIMITS,
        "ACCOUNT_REAUTHENTICATION_METHODS": ["password", "mfa"],
        "ACCOUNT_REAUTHENTICATION_TIMEOUT": 300,
        "MFA_ADAPTER": "caseload.web.adapters.FactorAdapter",
        "MFA_PASSKEY_LOGIN_ENABLED": True,
        "MFA_RATE_LIMITS": {"webauthn_login": "120/m/ip"},
        "MFA_RECOVERY_CODE_DIGITS": 10,
        "MFA_SUPPORTED_TYPES": ["totp", "webauthn", "recovery_codes"],
        "MFA_TOTP_ISSUER": "Caseload planner",
        "MFA_TOTP_TOLERANCE": 1,  # a telephone's clock may be half a minute out
        "MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN": not https,
    }
