from django.urls import include, path

urlpatterns = [path("", include("caseload.web.urls"))]
