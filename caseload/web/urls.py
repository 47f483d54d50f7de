from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.urls import path


@login_not_required
def livez(request: HttpRequest) -> HttpResponse:
    return HttpResponse("alive\n", content_type="text/plain")


urlpatterns = [path("livez", livez, name="livez")]
