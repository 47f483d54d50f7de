from django.urls import include, path

urlpatterns = [path("", include("caseload.web.urls"))]

handler400 = "caseload.web.views.errors.bad_request"
handler403 = "caseload.web.views.errors.not_allowed"
handler404 = "caseload.web.views.errors.not_found"
handler500 = "caseload.web.views.errors.broken"
handler429 = "caseload.web.views.sign_in.too_often"
