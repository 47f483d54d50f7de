"""Addresses of signing in. Those with a name that begins with account_, mfa_ or usersessions_ are looked up by
django-allauth; nothing else of it has an address, so there is no signing up."""

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LogoutView
from django.urls import path

from caseload.web.views import set_password, sign_in, unlock, your_sessions, your_sign_in

sign_in_pages = [
    path("sign-in/", sign_in.SignIn.as_view(), name="sign-in"),
    path("sign-in/", sign_in.SignIn.as_view(), name="account_login"),
    path("sign-out/", login_not_required(LogoutView.as_view()), name="sign-out"),
    path("sign-in/second-factor/", sign_in.SecondFactor.as_view(), name="mfa_authenticate"),
    path("sign-in/passkey/", sign_in.SignInByPasskey.as_view(), name="mfa_login_webauthn"),
    path("sign-in/forgotten/", set_password.forgotten, name="forgotten"),
    path("sign-in/password/<slug:uidb64>/<str:token>/", set_password.SetPassword.as_view(), name="set-password"),
    path("sign-in/unlock/", unlock.unlock, name="unlock"),
    path("your-sign-in/", your_sign_in.show, name="mfa_index"),
    path("your-sign-in/again/", your_sign_in.Again.as_view(), name="account_reauthenticate"),
    path("your-sign-in/again/code/", your_sign_in.AgainByCode.as_view(), name="mfa_reauthenticate"),
    path("your-sign-in/again/passkey/", your_sign_in.AgainByPasskey.as_view(), name="mfa_reauthenticate_webauthn"),
    path("your-sign-in/password/", your_sign_in.ChangePassword.as_view(), name="account_change_password"),
    path("your-sign-in/password/first/", your_sign_in.FirstPassword.as_view(), name="account_set_password"),
    path("your-sign-in/second-factor/", your_sign_in.choose, name="second-factor"),
    path("your-sign-in/app/", your_sign_in.AddApp.as_view(), name="mfa_activate_totp"),
    path("your-sign-in/app/remove/", your_sign_in.RemoveApp.as_view(), name="mfa_deactivate_totp"),
    path("your-sign-in/passkeys/new/", your_sign_in.AddPasskey.as_view(), name="mfa_add_webauthn"),
    path("your-sign-in/passkeys/<int:pk>/remove/", your_sign_in.RemovePasskey.as_view(), name="mfa_remove_webauthn"),
    path("your-sign-in/recovery-codes/", your_sign_in.RecoveryCodes.as_view(), name="mfa_view_recovery_codes"),
    path(
        "your-sign-in/recovery-codes/new/",
        your_sign_in.NewRecoveryCodes.as_view(),
        name="mfa_generate_recovery_codes",
    ),
    path("your-sign-in/sessions/", your_sessions.show, name="usersessions_list"),
]
